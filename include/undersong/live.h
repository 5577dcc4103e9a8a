/* The live process: one thread that reads the player, steps the companion and writes its answer in the same
   wake-up.  It sleeps on its sources; nothing in it waits, allocates or locks after us_live_run() began.
   Times are nanoseconds since `origin_ns` on us_clock_ns(). */
#ifndef UNDERSONG_LIVE_H
#define UNDERSONG_LIVE_H

#include "undersong/companion.h"
#include "undersong/snapshot.h"
#include "undersong/status.h"

#include <poll.h>

/* Where the player's events come from.  Called on the live thread only. */
enum { US_SOURCE_ENDED = -1, US_SOURCE_FDS_MAX = 8, US_SOURCE_EVENTS_MAX = 64 };
struct us_source {
    void *self;
    /* What to sleep on: fills at most US_SOURCE_FDS_MAX and returns how many. */
    int (*fds)(void *self, struct pollfd *out);
    /* Events that have come by `now_ns`, in order, at most US_SOURCE_EVENTS_MAX; US_SOURCE_ENDED when there
       will be no more: then it is not asked again.  Called at every wake-up, also where no descriptor is
       ready. */
    int (*read)(void *self, int64_t now_ns, struct us_event *out);
    /* When to be read next though no descriptor is ready; INT64_MAX: never.  May be NULL. */
    int64_t (*due)(void *self, int64_t now_ns);
};

/* Where the answer goes.  Called on the live thread only; must not wait. */
struct us_sink {
    void *self;
    void (*send)(void *self, const struct us_actions *actions);
    /* Releases every note that it has begun and says so (CC 123); when the process ends.  May be NULL. */
    void (*silence)(void *self);
};

enum { US_LIVE_SOURCES_MAX = 4, US_LIVE_SINKS_MAX = 16 };
struct us_live_settings {
    struct us_companion *companion;
    int64_t origin_ns;
    struct us_source sources[US_LIVE_SOURCES_MAX]; /* the process ends when the first one has ended */
    int source_count;
    struct us_sink sinks[US_LIVE_SINKS_MAX]; /* in this order */
    int sink_count;
    int split; /* notes below this pitch are the learner's own left hand: they sound, but are
                  not followed; 0: none */
    struct us_snapshot_box *box; /* published after each wake-up with a step; may be NULL */
    /* After each step; must not wait.  May be NULL. */
    void (*after)(void *context, const struct us_event *event, const struct us_actions *actions);
    /* After us_live_wait() has moved time zero; must not wait.  May be NULL. */
    void (*moved)(void *context, int64_t origin_ns);
    void *context;
};

struct us_live;
/* The settings are copied; what they point at must outlive the process.  Fails where memory or descriptors
   end, then `*live` is NULL. */
enum us_status us_live_create(struct us_live **live, const struct us_live_settings *settings,
                              struct us_error *error) US_WARN_UNUSED;
void us_live_destroy(struct us_live *live); /* accepts NULL */

/* Runs on the calling thread until us_live_stop() or the end of the first source; then releases everything.
 */
void us_live_run(struct us_live *live);
/* Ends us_live_run() and us_live_wait(); any thread, also a signal handler. */
void us_live_stop(struct us_live *live);
/* A control event from one other thread, such as a window; false where 64 wait already. */
bool us_live_post(struct us_live *live, const struct us_event *event);

/* For a driver with its own order of steps, on the live thread instead of us_live_run(): sleeps until
   `until_ns` and steps what the sources and us_live_post() bring meanwhile, such as controls, but no ticks;
   false when stopped.  Where the process stood still, time zero moves by as much: the driver goes on from
   where it was. */
bool us_live_wait(struct us_live *live, int64_t until_ns);
/* ... sends what a step answered to every sink and to `after`. */
void us_live_emit(struct us_live *live, const struct us_event *event, const struct us_actions *actions);
/* ... and silences every sink at the end. */
void us_live_silence(struct us_live *live);

#endif
