/* The latest state for a picture: written by one thread, read by one other, neither of which ever waits. */
#ifndef UNDERSONG_SNAPSHOT_H
#define UNDERSONG_SNAPSHOT_H

#include "undersong/companion.h"

#include <stdatomic.h>

/* Three buffers: one belongs to the writer, one to the reader, one lies between them.  Caller-owned. */
struct us_snapshot_box {
    struct us_snapshot buffer[3];
    atomic_uint between; /* index of the buffer between, and a bit that is set where it is unread */
    unsigned writing, reading;
};

/* An empty box, before any thread uses it. */
void us_snapshot_box_init(struct us_snapshot_box *box);
/* Writer: the buffer to fill, then publish.  Wait-free. */
struct us_snapshot *us_snapshot_box_back(struct us_snapshot_box *box);
void us_snapshot_box_publish(struct us_snapshot_box *box);
/* Reader: the newest snapshot; `fresh` (may be NULL) tells whether it is newer than at the last call. */
const struct us_snapshot *us_snapshot_box_latest(struct us_snapshot_box *box, bool *fresh);

#endif
