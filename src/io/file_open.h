/* Opening what is read. */
#ifndef FILE_OPEN_H
#define FILE_OPEN_H

#include <stdio.h>

/* The file, or NULL with errno.  A pipe by name that nobody writes into is at its end at once: it keeps
   nobody waiting who reads a whole folder. */
FILE *file_open(const char *path);

#endif
