#include "follow_player.h"

#include "undersong/follower_state.h"

#include <math.h>
#include <stdlib.h>

struct key_event {
    double s;
    bool on;
    int16_t pitch, velocity;
};

static int by_time(const void *a, const void *b)
{
    const struct key_event *x = a, *y = b;
    if (x->s != y->s) return x->s < y->s ? -1 : 1;
    return x->on - y->on;
}

struct us_follower_settings follower_told(const struct us_tune *tune)
{
    double bar = us_metre_bar_quarters(tune->metre), first = tune->note_count ? tune->notes[0].at : 0;
    double up = fmod(tune->pickup - first, bar);
    return (struct us_follower_settings){.metre = tune->metre, .pickup = up < -1e-6 ? up + bar : fabs(up)};
}

bool follow_performance(const struct performance *p, const struct us_follower_settings *settings,
                        void (*hear)(void *context, const struct us_felt *felt), void *context)
{
    struct us_follower *f = malloc(sizeof *f);
    struct us_felt felt;
    struct key_event *events = calloc(2 * p->note_count + 1, sizeof *events);
    for (size_t i = 0; events && i < p->note_count; i++) {
        const struct played_note *n = &p->notes[i];
        events[2 * i] = (struct key_event){n->on_s, true, n->pitch, n->velocity};
        events[2 * i + 1] = (struct key_event){n->off_s, false, n->pitch, 0};
    }
    bool ok = f && events;
    if (ok) {
        qsort(events, 2 * p->note_count, sizeof *events, by_time);
        us_follower_init(f, settings);
    }
    for (size_t i = 0; ok && i < 2 * p->note_count; i++) {
        int64_t now = (int64_t)llround(events[i].s * 1e9);
        while (us_follower_tick(f, now, &felt))
            hear(context, &felt);
        if (!events[i].on) {
            us_follower_note_off(f, now, events[i].pitch);
            continue;
        }
        us_follower_onset(f, now, events[i].pitch, events[i].velocity, &felt);
        hear(context, &felt);
    }
    free(events);
    free(f);
    return ok;
}
