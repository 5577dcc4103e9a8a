/* The way out of the MIDI thread: a queue of actions for one producer and one consumer, without locks or
   waiting. A full queue drops, counts and says so; the release of a note that went through always goes
   through. */
#ifndef UNDERSONG_QUEUE_H
#define UNDERSONG_QUEUE_H

#include "undersong/event.h"
#include "undersong/status.h"

struct us_queue;

/* Room for `capacity` actions, rounded up to a power of two and at least US_QUEUE_CAPACITY_MIN, so that a
   place can be kept for the release of every note of every voice.  NULL without memory.  Any one thread. */
enum { US_QUEUE_CAPACITY_MIN = 1024 };
struct us_queue *us_queue_create(uint32_t capacity);
void us_queue_destroy(struct us_queue *q); /* accepts NULL */

/* Producer only; neither waits nor allocates. False where there was no room: then `action` is dropped and
   counted.  A note-on is let in only where its release fits too; the release of a note that was dropped is
   not sent and counts as nothing.  US_ACTION_ALL_OFF stands for the release of all its voice's notes. */
bool us_queue_push(struct us_queue *q, const struct us_action *action);

/* Consumer only; neither waits nor allocates.  False where the queue is empty. */
bool us_queue_pop(struct us_queue *q, struct us_action *action);
/* Consumer only: the next action, left where it is, or NULL; valid until the next pop. */
const struct us_action *us_queue_peek(struct us_queue *q);

/* Actions dropped since creation.  Any thread. */
uint32_t us_queue_dropped(const struct us_queue *q);

#endif
