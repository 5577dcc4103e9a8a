/* Pages from LilyPond source, through the lilypond program where it is installed.  Not for the realtime
 * thread.
 */
#ifndef UNDERSONG_ENGRAVE_H
#define UNDERSONG_ENGRAVE_H

#include <stdbool.h>
#include <stddef.h>

#include "undersong/status.h"

/* Writes `path` (a PDF, or with `png` one picture a page: NAME.png, or NAME-1.png, NAME-2.png ...) from
   `size` bytes of source.  The program is started without a shell, in a folder of its own that is removed
   again. US_STATUS_IO where it is missing, fails or the page cannot be written: one line says which. */
enum us_status us_engrave(const char *source, size_t size, const char *path, bool png,
                          struct us_error *error) US_WARN_UNUSED;

#endif
