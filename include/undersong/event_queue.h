/* Events from a thread that may be late to the live thread, such as a window's: keys of the computer, the
   mouse on the drawn keys.  One writer, one reader, no lock; the reader is woken by a descriptor. */
#ifndef UNDERSONG_EVENT_QUEUE_H
#define UNDERSONG_EVENT_QUEUE_H

#include "undersong/live.h"

#include <stdatomic.h>

enum { US_EVENT_QUEUE_EVENTS = 256 };
/* Caller-owned; may outlive the live process that reads it, and serve the next one. */
struct us_event_queue {
    struct us_event events[US_EVENT_QUEUE_EVENTS];
    atomic_uint head, tail;
    atomic_bool overrun; /* something was lost: everything is released */
    int wake_fd;
};

/* US_STATUS_IO where no descriptor is left. */
enum us_status us_event_queue_init(struct us_event_queue *q, struct us_error *error) US_WARN_UNUSED;
void us_event_queue_finish(struct us_event_queue *q);
/* Writer: never waits.  `event->at_ns` is set by the reader.  A full queue loses the event, and its reader
   releases every note. */
void us_event_queue_push(struct us_event_queue *q, const struct us_event *event);
/* Reader: a source that never ends. */
struct us_source us_event_queue_source(struct us_event_queue *q);

#endif
