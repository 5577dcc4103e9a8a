/* Keeps what is played as a Standard MIDI File that is valid at every moment: a crash or a power cut loses at
   most the last second.  Writing and syncing happen on a thread of the recorder's own. */
#ifndef UNDERSONG_RECORDER_H
#define UNDERSONG_RECORDER_H

#include "undersong/event.h"
#include "undersong/status.h"

/* So many sessions stay in the user's data folder. */
enum { US_RECORDER_SESSIONS = 50 };

struct us_recorder_settings {
    const char *path; /* NULL: a new file in $XDG_DATA_HOME/undersong/sessions (XDG Base Directory), where the
                         last US_RECORDER_SESSIONS stay; one without notes is removed when it is closed */
    int64_t start_ns; /* time 0 of the file, on the clock of the actions */
    /* One line for the user, at most once for each kind of trouble: the disk is full, events were lost.
       Called on the recorder's thread; may be NULL. */
    void (*report)(void *context, const char *line);
    void *context;
};

struct us_recorder;

/* Creates the file (mode 0600; one that is there is replaced) and starts the thread.  US_STATUS_IO where the
   file cannot be made, then `*out` is NULL. */
enum us_status us_recorder_open(struct us_recorder **out, const struct us_recorder_settings *settings,
                                struct us_error *error) US_WARN_UNUSED;
/* Any thread but the realtime one: waits for a mutex, never for the disk.  Actions of one thread keep their
   order.  NULL is ignored. */
void us_recorder_action(struct us_recorder *recorder, const struct us_action *action);
/* Where the file is. */
const char *us_recorder_path(const struct us_recorder *recorder);
/* Writes what is left, puts melody, left hand and second voice on a track each, and frees the recorder.  NULL
   is fine.  US_STATUS_IO where something could not be kept. */
enum us_status us_recorder_close(struct us_recorder *recorder, struct us_error *error);

#endif
