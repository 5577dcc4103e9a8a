/* Writing a file whole or not at all.  Not for the realtime thread. */
#ifndef UNDERSONG_FILE_SAVE_H
#define UNDERSONG_FILE_SAVE_H

#include <stdbool.h>
#include <stddef.h>
#include <sys/types.h>

#include "undersong/status.h"

/* Replaces `path` by these bytes: a new file beside it, written out, then renamed; what was there before
   stays until then.  `mode` is 0666 for what the user asked for (the umask applies), 0600 for private files.
   A path that is no regular file (a device, a pipe) is written to directly.  US_STATUS_IO with one line on
   failure. */
enum us_status us_file_save(const char *path, const void *bytes, size_t size, mode_t mode,
                            struct us_error *error) US_WARN_UNUSED;

/* The same without waiting for the disk, for one of many files that can be made again: whole or not at all
   unless the power fails. */
enum us_status us_file_save_many(const char *path, const void *bytes, size_t size, mode_t mode,
                                 struct us_error *error) US_WARN_UNUSED;

/* Makes every folder of the path that is missing, for this user alone.  False, with errno, where one cannot
   be made. */
bool us_make_folders(const char *path) US_WARN_UNUSED;

#endif
