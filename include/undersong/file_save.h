/* Writing a file whole or not at all.  Not for the realtime thread. */
#ifndef UNDERSONG_FILE_SAVE_H
#define UNDERSONG_FILE_SAVE_H

#include <limits.h>
#include <stdbool.h>
#include <stddef.h>
#include <sys/types.h>

#include "undersong/status.h"

/* Replaces `path` by these bytes: a new file beside it, written out, then renamed; what was there before
   stays until then.  `mode` is 0666 for what the user asked for (the umask applies), 0600 for private files;
   nobody may read the new file who could not read the one before, and one that is protected against writing
   stays.
   A path that is no regular file (a device, a pipe) is written to directly.  US_STATUS_IO with one line on
   failure. */
enum us_status us_file_save(const char *path, const void *bytes, size_t size, mode_t mode,
                            struct us_error *error) US_WARN_UNUSED;

/* The same without waiting for the disk, for one of many files that can be made again: whole or not at all
   unless the power fails. */
enum us_status us_file_save_many(const char *path, const void *bytes, size_t size, mode_t mode,
                                 struct us_error *error) US_WARN_UNUSED;

/* The same for bytes that come little by little: `fd` is to be written, then kept, or dropped as if nothing
   had been begun.  A path that is no regular file is written to directly here too. */
struct us_file_part {
    int fd;
    char target[PATH_MAX], part[PATH_MAX + 32]; /* `part` is empty where it is written directly */
};
enum us_status us_file_part_begin(struct us_file_part *p, const char *path, mode_t mode,
                                  struct us_error *error) US_WARN_UNUSED;
enum us_status us_file_part_keep(struct us_file_part *p, struct us_error *error) US_WARN_UNUSED;
void us_file_part_drop(struct us_file_part *p);

/* Makes every folder of the path that is missing, for this user alone.  False, with errno, where one cannot
   be made. */
bool us_make_folders(const char *path) US_WARN_UNUSED;

#endif
