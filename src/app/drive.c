#include "drive.h"

/* How long the last chord may ring after the last event of a file. */
static const int64_t RING_NS = 4000000000;
/* And at most so long the answer of a round after its tune: sixteen slow bars. */
static const int64_t ANSWER_NS = 120000000000;

static bool step(const struct drive *d, const struct us_event *event)
{
    struct us_actions actions;
    if (d->wait && !d->wait(d->context, event->at_ns)) return false;
    us_companion_step(d->companion, event, &actions);
    d->after(d->context, event, &actions);
    return true;
}

/* Ticks that are due before `until_ns`. */
static bool run_ticks(const struct drive *d, int64_t until_ns, int64_t *now_ns)
{
    int64_t due;
    while ((due = us_companion_due(d->companion)) < until_ns) {
        if (due < *now_ns) due = *now_ns;
        struct us_event tick = {.at_ns = due, .kind = US_EVENT_TICK};
        if (!step(d, &tick)) return false;
        *now_ns = due;
        if (us_companion_due(d->companion) <= due) break; /* no progress: leave the rest to the next event */
    }
    return true;
}

/* A round's answer that still goes on after the player's last note is heard out. */
static bool answering(const struct drive *d)
{
    struct us_snapshot now;
    us_companion_snapshot(d->companion, &now);
    return now.answering;
}

void drive_run(const struct drive *d)
{
    const struct performance *p = d->performance;
    int64_t now_ns = 0;
    bool on = true;
    for (size_t i = 0; i < p->count && on; i++) {
        on = run_ticks(d, p->events[i].at_ns, &now_ns) && step(d, &p->events[i]);
        if (on) now_ns = p->events[i].at_ns; /* an event that was still waited for has not been played */
    }
    if (on) on = run_ticks(d, now_ns + RING_NS, &now_ns);
    int64_t last_ns = now_ns + ANSWER_NS;
    for (int64_t until_ns = now_ns; on && answering(d) && until_ns < last_ns; until_ns += RING_NS)
        on = run_ticks(d, until_ns + RING_NS, &now_ns);
    struct us_event end = {.at_ns = now_ns, .kind = US_EVENT_PANIC};
    if (p->count && on && end.at_ns < p->events[p->count - 1].at_ns + RING_NS)
        end.at_ns = p->events[p->count - 1].at_ns + RING_NS;
    struct us_actions actions;
    if (on && d->wait) d->wait(d->context, end.at_ns);
    us_companion_step(d->companion, &end, &actions);
    d->after(d->context, &end, &actions);
}
