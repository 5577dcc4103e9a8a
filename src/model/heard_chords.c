#include "heard_chords.h"

#include <math.h>
#include <stdlib.h>

#include "program_words.h"

enum { EVENTS_MAX = 8192 };

static void hear(struct heard_chords *h, const struct us_actions *actions)
{
    for (uint32_t i = 0; i < actions->count; i++) {
        const struct us_action *a = &actions->list[i];
        if (a->kind == US_ACTION_CHORD) h->chord = a->chord;
        if (a->kind == US_ACTION_KEY) h->key = a->key;
        if (a->kind == US_ACTION_BEAT && a->bar && h->bars < HEARD_MAX)
            h->bar_s[h->bars++] = (double)a->at_ns * 1e-9;
        if (a->voice == US_VOICE_LEFT && a->kind == US_ACTION_NOTE_ON) {
            h->left_down++;
            if (h->strikes < HEARD_MAX) h->strike_s[h->strikes++] = (double)a->at_ns * 1e-9;
        }
        if (a->voice == US_VOICE_LEFT && a->kind == US_ACTION_NOTE_OFF) h->left_down--;
    }
    if (!actions->count || h->count == HEARD_MAX) return;
    struct us_chord now = h->left_down ? h->chord : (struct us_chord){US_NO_CHORD, 0};
    if (h->count && us_chord_equal(h->list[h->count - 1].chord, now)) return;
    h->list[h->count].s = (double)actions->list[0].at_ns * 1e-9;
    h->list[h->count++].chord = now;
}

static int by_time(const void *a, const void *b)
{
    const struct us_event *x = a, *y = b;
    if (x->at_ns != y->at_ns) return x->at_ns < y->at_ns ? -1 : 1;
    return (y->kind == US_EVENT_NOTE_OFF) - (x->kind == US_EVENT_NOTE_OFF);
}

static size_t events_of(const struct performance *p, int shift, struct us_event *events)
{
    size_t count = 0;
    for (size_t i = 0; i < p->note_count && count + 2 <= EVENTS_MAX; i++) {
        struct us_event e = {.at_ns = (int64_t)(p->notes[i].on_s * 1e9),
                             .kind = US_EVENT_NOTE_ON,
                             .pitch = (uint8_t)(p->notes[i].pitch + shift),
                             .velocity = (uint8_t)p->notes[i].velocity};
        events[count++] = e;
        e.at_ns = (int64_t)(p->notes[i].off_s * 1e9);
        e.kind = US_EVENT_NOTE_OFF;
        events[count++] = e;
    }
    qsort(events, count, sizeof *events, by_time);
    return count;
}

void heard_play(const struct us_companion_settings *settings, const struct performance *p, int shift,
                struct heard_chords *h)
{
    static struct us_event events[EVENTS_MAX];
    struct us_companion *companion = words_room(1, us_companion_size());
    us_companion_init(companion, settings);
    h->count = h->strikes = h->bars = 0;
    h->left_down = 0;
    h->chord = (struct us_chord){US_NO_CHORD, US_CHORD_MAJ};
    h->key = (struct us_key){US_NO_KEY, US_MODE_MAJOR};
    size_t count = events_of(p, shift, events);
    struct us_actions actions;
    for (size_t i = 0; i < count; i++) {
        int64_t due;
        while ((due = us_companion_due(companion)) < events[i].at_ns) {
            struct us_event tick = {.at_ns = due, .kind = US_EVENT_TICK};
            us_companion_step(companion, &tick, &actions);
            hear(h, &actions);
            if (us_companion_due(companion) <= due) break;
        }
        us_companion_step(companion, &events[i], &actions);
        hear(h, &actions);
    }
    free(companion);
}

/* How much of the time from `from` to `to` the chord of number `i` sounds. */
static double time_of(const struct heard_chords *h, size_t i, double from, double to)
{
    double end = i + 1 < h->count ? h->list[i + 1].s : to;
    return fmax(0, fmin(to, end) - fmax(from, h->list[i].s));
}

double heard_root_time(const struct heard_chords *h, double from, double to, int root)
{
    double time = 0;
    for (size_t i = 0; i < h->count; i++)
        if (h->list[i].chord.root == root) time += time_of(h, i, from, to);
    return time;
}

double heard_role_time(const struct heard_chords *h, double from, double to, struct us_key key,
                       enum us_role role)
{
    double time = 0;
    for (size_t i = 0; i < h->count; i++)
        if (us_chord_role(h->list[i].chord, key) == role) time += time_of(h, i, from, to);
    return time;
}

double heard_nearest(const double *list, size_t count, double s)
{
    double best = INFINITY;
    for (size_t i = 0; i < count; i++)
        if (fabs(list[i] - s) < fabs(best - s)) best = list[i];
    return best;
}
