/* `play` with a performer from a file. */
#ifndef APP_PLAY_FILE_H
#define APP_PLAY_FILE_H

#include "play_settings.h"

/* Whether --from names a tune or a performance in a file. */
bool play_is_file(const char *from);
/* Plays it in virtual time into file sinks; returns the exit status. */
int play_file(const struct play_settings *play);

#endif
