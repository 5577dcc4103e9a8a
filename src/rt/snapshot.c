#include "undersong/snapshot.h"

#include <string.h>

enum { FRESH = 4, INDEX = 3 };

void us_snapshot_box_init(struct us_snapshot_box *box)
{
    memset(box->buffer, 0, sizeof box->buffer);
    for (int i = 0; i < 3; i++) {
        box->buffer[i].key.tonic = US_NO_KEY;
        box->buffer[i].chord.root = US_NO_CHORD;
        box->buffer[i].melody = -1;
    }
    box->writing = 0;
    box->reading = 1;
    atomic_init(&box->between, 2);
}

struct us_snapshot *us_snapshot_box_back(struct us_snapshot_box *box)
{
    return &box->buffer[box->writing];
}

void us_snapshot_box_publish(struct us_snapshot_box *box)
{
    box->writing =
        atomic_exchange_explicit(&box->between, box->writing | FRESH, memory_order_acq_rel) & INDEX;
}

const struct us_snapshot *us_snapshot_box_latest(struct us_snapshot_box *box, bool *fresh)
{
    bool newer = atomic_load_explicit(&box->between, memory_order_relaxed) & FRESH;
    if (newer)
        box->reading = atomic_exchange_explicit(&box->between, box->reading, memory_order_acq_rel) & INDEX;
    if (fresh) *fresh = newer;
    return &box->buffer[box->reading];
}
