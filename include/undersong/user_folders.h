/* Where the user's own files lie (XDG Base Directory Specification 0.8).  Any thread that may read the
 * environment. */
#ifndef UNDERSONG_USER_FOLDERS_H
#define UNDERSONG_USER_FOLDERS_H

#include <stdbool.h>
#include <stddef.h>

/* The path of `name`, such as "sessions", in the program's folder for data ($XDG_DATA_HOME/undersong, else
   ~/.local/share/undersong); nothing is made there.  False, with "" in `out`, where no home is known or
   `size` bytes are too few. */
bool us_user_data(const char *name, char *out, size_t size);
/* The same for what the user sets: $XDG_CONFIG_HOME/undersong, else ~/.config/undersong. */
bool us_user_config(const char *name, char *out, size_t size);

#endif
