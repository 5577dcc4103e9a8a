#include "undersong/live.h"

#include "undersong/clock.h"

#include <errno.h>
#include <stdatomic.h>
#include <stdlib.h>
#include <string.h>
#include <sys/eventfd.h>
#include <time.h>
#include <unistd.h>

enum { POSTS = 64 };
#define LONGEST_SLEEP_NS INT64_C(1000000000)
#define STOOD_STILL_NS INT64_C(500000000) /* later than any load makes a beat */

struct us_live {
    struct us_live_settings settings;
    int wake_fd;
    atomic_bool stopping;
    int64_t stepped_ns;   /* the time of the last step: steps never run back */
    bool ticks_elsewhere; /* us_live_wait(): its caller sends the ticks */
    bool stepped;         /* since the last snapshot */
    bool ended[US_LIVE_SOURCES_MAX];
    struct us_actions actions;
    struct us_event events[US_SOURCE_EVENTS_MAX];
    struct us_event posts[POSTS];
    atomic_uint post_head, post_tail;
};

enum us_status us_live_create(struct us_live **out, const struct us_live_settings *settings,
                              struct us_error *error)
{
    struct us_live *l = calloc(1, sizeof *l);
    *out = NULL;
    if (!l) return us_error_no_memory(error);
    l->settings = *settings;
    l->wake_fd = eventfd(0, EFD_NONBLOCK | EFD_CLOEXEC);
    if (l->wake_fd < 0) {
        free(l);
        return us_error_set(error, US_STATUS_IO, "no more files can be opened; close some programs");
    }
    *out = l;
    return US_STATUS_OK;
}

void us_live_destroy(struct us_live *l)
{
    if (!l) return;
    close(l->wake_fd);
    free(l);
}

/* In the time of the events. */
static int64_t now_of(const struct us_live *l)
{
    return us_clock_ns() - l->settings.origin_ns;
}

static void wake(struct us_live *l)
{
    uint64_t one = 1;
    ssize_t wrote = write(l->wake_fd, &one, sizeof one);
    (void)wrote; /* a full counter wakes too */
}

void us_live_stop(struct us_live *l)
{
    int before = errno;
    atomic_store(&l->stopping, true);
    wake(l);
    errno = before;
}

bool us_live_post(struct us_live *l, const struct us_event *event)
{
    unsigned head = atomic_load_explicit(&l->post_head, memory_order_relaxed);
    if (head - atomic_load_explicit(&l->post_tail, memory_order_acquire) == POSTS) return false;
    l->posts[head % POSTS] = *event;
    atomic_store_explicit(&l->post_head, head + 1, memory_order_release);
    wake(l);
    return true;
}

void us_live_emit(struct us_live *l, const struct us_event *event, const struct us_actions *actions)
{
    for (int i = 0; i < l->settings.sink_count && actions->count; i++)
        l->settings.sinks[i].send(l->settings.sinks[i].self, actions);
    if (l->settings.after) l->settings.after(l->settings.context, event, actions);
    l->stepped = true;
}

void us_live_silence(struct us_live *l)
{
    for (int i = 0; i < l->settings.sink_count; i++)
        if (l->settings.sinks[i].silence) l->settings.sinks[i].silence(l->settings.sinks[i].self);
}

static void step(struct us_live *l, struct us_event *event)
{
    if (event->at_ns < l->stepped_ns) event->at_ns = l->stepped_ns;
    l->stepped_ns = event->at_ns;
    us_companion_step(l->settings.companion, event, &l->actions);
    us_live_emit(l, event, &l->actions);
}

/* After the process stood still (stopped, or the machine asleep) the beats that were missed are not made up
   in a heap: everything is released, and the player goes on. */
static void forget_missed(struct us_live *l, int64_t now_ns)
{
    if (us_companion_due(l->settings.companion) > now_ns - STOOD_STILL_NS) return;
    struct us_event panic = {.at_ns = now_ns, .kind = US_EVENT_PANIC};
    step(l, &panic);
}

/* Ticks that are due before `until_ns`. */
static void run_ticks(struct us_live *l, int64_t until_ns)
{
    int64_t due;
    while ((due = us_companion_due(l->settings.companion)) < until_ns) {
        struct us_event tick = {.at_ns = due, .kind = US_EVENT_TICK};
        step(l, &tick);
        if (us_companion_due(l->settings.companion) <= due) return;
    }
}

/* The learner's own left hand: straight through. */
static bool pass_below_split(struct us_live *l, const struct us_event *event)
{
    bool on = event->kind == US_EVENT_NOTE_ON && event->velocity,
         off = event->kind == US_EVENT_NOTE_OFF || !event->velocity;
    if (event->kind > US_EVENT_NOTE_OFF || event->pitch >= l->settings.split || !(on || off)) return false;
    l->actions.count = 1;
    l->actions.list[0] = (struct us_action){.at_ns = event->at_ns,
                                            .kind = on ? US_ACTION_NOTE_ON : US_ACTION_NOTE_OFF,
                                            .voice = US_VOICE_LEFT,
                                            .pitch = event->pitch,
                                            .velocity = event->velocity};
    us_live_emit(l, event, &l->actions);
    return true;
}

static void take_event(struct us_live *l, struct us_event *event)
{
    if (!l->ticks_elsewhere) run_ticks(l, event->at_ns);
    if (!pass_below_split(l, event)) step(l, event);
}

static void take_posts(struct us_live *l, int64_t now_ns)
{
    unsigned tail = atomic_load_explicit(&l->post_tail, memory_order_relaxed);
    while (tail != atomic_load_explicit(&l->post_head, memory_order_acquire)) {
        struct us_event event = l->posts[tail % POSTS];
        event.at_ns = now_ns;
        atomic_store_explicit(&l->post_tail, ++tail, memory_order_release);
        take_event(l, &event);
    }
}

/* Keys that it held are never let go: everything is released.  The first one's end is that of the run. */
static void end_source(struct us_live *l, int source, int64_t now_ns)
{
    l->ended[source] = true;
    struct us_event panic = {.at_ns = now_ns, .kind = US_EVENT_PANIC};
    if (source) step(l, &panic);
}

/* False when the first source has ended. */
static bool read_sources(struct us_live *l, int64_t now_ns)
{
    for (int i = 0; i < l->settings.source_count; i++) {
        const struct us_source *s = &l->settings.sources[i];
        int count = l->ended[i] ? 0 : s->read(s->self, now_ns, l->events);
        if (count == US_SOURCE_ENDED) end_source(l, i, now_ns);
        for (int k = 0; k < count; k++)
            take_event(l, &l->events[k]);
    }
    return !l->ended[0];
}

static void sleep_until(struct pollfd *fds, int count, int64_t ns)
{
    if (ns < 0) ns = 0;
    if (ns > LONGEST_SLEEP_NS) ns = LONGEST_SLEEP_NS;
    struct timespec t = {.tv_sec = (time_t)(ns / 1000000000), .tv_nsec = (long)(ns % 1000000000)};
    ppoll(fds, (nfds_t)count, &t, NULL);
}

static void clear_wake(struct us_live *l)
{
    uint64_t count;
    ssize_t got = read(l->wake_fd, &count, sizeof count);
    (void)got;
}

/* Until the sources want to be read, `until_ns` at the latest. */
static void sleep_on_sources(struct us_live *l, int64_t until_ns)
{
    struct pollfd fds[1 + US_LIVE_SOURCES_MAX * US_SOURCE_FDS_MAX] = {{.fd = l->wake_fd, .events = POLLIN}};
    int count = 1;
    int64_t now_ns = now_of(l);
    for (int i = 0; i < l->settings.source_count; i++) {
        const struct us_source *s = &l->settings.sources[i];
        if (l->ended[i]) continue;
        count += s->fds(s->self, fds + count);
        int64_t own = s->due ? s->due(s->self, now_ns) : INT64_MAX;
        if (own < until_ns) until_ns = own;
    }
    sleep_until(fds, count, until_ns == INT64_MAX ? LONGEST_SLEEP_NS : until_ns - now_ns);
    if (fds[0].revents) clear_wake(l);
}

static void publish(struct us_live *l)
{
    if (l->settings.box && l->stepped) {
        us_companion_snapshot(l->settings.companion, us_snapshot_box_back(l->settings.box));
        us_snapshot_box_publish(l->settings.box);
    }
    l->stepped = false;
}

void us_live_run(struct us_live *l)
{
    bool going = true;
    while (going && !atomic_load(&l->stopping)) {
        sleep_on_sources(l, us_companion_due(l->settings.companion));
        int64_t now_ns = now_of(l);
        forget_missed(l, now_ns);
        going = read_sources(l, now_ns);
        take_posts(l, now_ns);
        run_ticks(l, now_ns + 1);
        publish(l);
    }
    struct us_event panic = {.at_ns = now_of(l), .kind = US_EVENT_PANIC};
    step(l, &panic);
    us_live_silence(l);
    publish(l);
}

/* A performance that stood still is not made up in a heap either: its time stood still with it. */
static void stand_still(struct us_live *l, int64_t late_ns)
{
    if (late_ns <= STOOD_STILL_NS) return;
    l->settings.origin_ns += late_ns;
    if (l->settings.moved) l->settings.moved(l->settings.context, l->settings.origin_ns);
}

bool us_live_wait(struct us_live *l, int64_t until_ns)
{
    publish(l);
    l->ticks_elsewhere = true;
    while (!atomic_load(&l->stopping)) {
        int64_t now_ns = now_of(l);
        if (now_ns >= until_ns) {
            stand_still(l, now_ns - until_ns);
            return true;
        }
        sleep_on_sources(l, until_ns);
        now_ns = now_of(l);
        read_sources(l, now_ns < until_ns ? now_ns : until_ns);
        take_posts(l, now_ns < until_ns ? now_ns : until_ns);
    }
    return false;
}
