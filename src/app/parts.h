/* What needs large libraries (sound, pictures, MusicXML, the window) is in parts of its own, shared objects
   that are opened when they are first called: who plays by MIDI alone does not carry them in memory.  The
   part_*.c files stand in the program for the functions of a part and pass the calls on. */
#ifndef APP_PARTS_H
#define APP_PARTS_H

#include <stdbool.h>

#include "undersong/status.h"

/* The function `name` of undersong-PART.so, which lies beside the program or where it was installed.  NULL
   where it cannot be opened, with the reason in `error` (may be NULL).  Not for the live thread. */
void *part_function(const char *part, const char *name, struct us_error *error);

/* The function of the part that stands behind the one that asks, with its type. */
#define PART_FUNCTION(part, function, error) ((__typeof__(&(function)))part_function(part, #function, error))

#endif
