/* A session's file on the disk.  One thread. */
#ifndef UNDERSONG_RECORDER_FILE_H
#define UNDERSONG_RECORDER_FILE_H

#include <limits.h>
#include <sys/types.h>

#include "undersong/smf_writer.h"

/* How the file stays valid: the header says how many track chunks there are.  What is new is written as one
   more chunk behind the last one and synced; only then two bytes in the header, which no disk writes by
   halves, make it count.  Before that it is bytes after the last track, which readers leave out. */
struct recorder_file {
    char path[PATH_MAX];
    int fd;
    off_t end;       /* behind the last chunk that counts */
    unsigned tracks; /* that count */
};

/* Creates the file at file->path with its first tracks. */
enum us_status us_recorder_file_create(struct recorder_file *file, struct us_error *error) US_WARN_UNUSED;
/* Appends what `writer` holds, which has one track, as a chunk.  On failure nothing has changed. */
enum us_status us_recorder_file_append(struct recorder_file *file, struct us_smf_writer *writer,
                                       struct us_error *error) US_WARN_UNUSED;
/* Sorts the chunks into one track for each voice: a new file takes the place of the old one. */
enum us_status us_recorder_file_tidy(struct recorder_file *file, struct us_error *error) US_WARN_UNUSED;

/* Makes the sessions folder, and in file->path a name in it that is free.  US_STATUS_IO where there is no
   home or the folder cannot be made. */
enum us_status us_recorder_folder(struct recorder_file *file, struct us_error *error) US_WARN_UNUSED;
/* Removes all but the latest sessions in the folder of `path`. */
void us_recorder_prune(const char *path);

#endif
