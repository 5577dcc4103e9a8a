/* A session's file on the disk.  One thread. */
#ifndef UNDERSONG_RECORDER_FILE_H
#define UNDERSONG_RECORDER_FILE_H

#include <limits.h>
#include <sys/types.h>

#include "undersong/smf_writer.h"

/* How the file is valid at every moment.  While it grows it is one track of fixed size: the events so far,
   then one meta event, the filler (sequencer specific, FF 7F), whose payload is all the room that is left,
   then the end of track.  New events are written into the filler's payload, with a new, shorter filler behind
   them, but for their first bytes; that is synced, and changes nothing for a reader.  Then one write of
   FILLER_HEAD bytes, which lie in one sector of the disk, puts the first bytes over the old filler's head:
   now the new events count. When the room is used up the file is replaced by one with more. */
struct recorder_file {
    char path[PATH_MAX];
    int fd;
    off_t filler; /* where the filler's head begins */
    off_t end;    /* where the end of track begins */
    int64_t tick; /* of the last event */
};

/* Creates the file at file->path. */
enum us_status us_recorder_file_create(struct recorder_file *file, struct us_error *error) US_WARN_UNUSED;
/* Appends what `writer` holds, which has one track and continues from file->tick.  On failure nothing has
   changed. */
enum us_status us_recorder_file_append(struct recorder_file *file, struct us_smf_writer *writer,
                                       struct us_error *error) US_WARN_UNUSED;
/* The last step: a track for each voice and no filler; a new file takes the place of the old one. */
enum us_status us_recorder_file_finish(struct recorder_file *file, struct us_error *error) US_WARN_UNUSED;

/* Makes the sessions folder, and in file->path a name in it that is free.  US_STATUS_IO where there is no
   home or the folder cannot be made. */
enum us_status us_recorder_folder(struct recorder_file *file, struct us_error *error) US_WARN_UNUSED;
/* Removes all but the latest sessions in the folder of `path`. */
void us_recorder_prune(const char *path);

#endif
