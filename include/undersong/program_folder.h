/* What lies beside the program itself.  Any thread. */
#ifndef UNDERSONG_PROGRAM_FOLDER_H
#define UNDERSONG_PROGRAM_FOLDER_H

#include <stdbool.h>
#include <stddef.h>

/* The path of `name` in the folder of the running program, links followed: so a program that is run from
   where it was built finds what was built with it, and no build folder's path is inside an installed one.
   False, with "" in `out`, where it is not there, cannot be read or `size` bytes are too few. */
bool us_beside_program(const char *name, char *out, size_t size);

#endif
