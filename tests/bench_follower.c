/* Time of one note in the follower: median, 99th percentile and worst of many, in microseconds, with the
   metre given and without, for simulated players on tunes made up by chance. */
#include "bench_time.h"

#include <stdio.h>
#include <stdlib.h>

#include "players.h"

#include "undersong/follower_state.h"

enum { TUNES = 40, TUNE_NOTES = 160, ROOM = TUNES * TUNE_NOTES * 3 };

static double took[ROOM];
static size_t count;
static unsigned state = 1;

static unsigned chance(unsigned below)
{
    state = state * 1664525u + 1013904223u;
    return (unsigned)(((uint64_t)state * below) >> 32);
}

/* Bars of 4/4 filled with eighths, quarters and halves, up and down a scale. */
static void make_tune(struct us_note *notes)
{
    double at = 0;
    int pitch = 67;
    for (int i = 0; i < TUNE_NOTES; i++) {
        double beat = at - (double)(int)at, len = beat > 0 ? 0.5 : (double[]){0.5, 1, 1, 2}[chance(4)];
        pitch += (int)chance(7) - 3 + (pitch < 62) - (pitch > 76);
        notes[i] = (struct us_note){at, len, (int16_t)pitch, 80};
        at += len;
    }
}

static void play(const struct performance *p, bool given)
{
    static struct us_follower f;
    struct us_felt felt;
    struct us_follower_settings settings = {.pickup = -1};
    if (given) settings = (struct us_follower_settings){.metre = {4, 4}};
    us_follower_init(&f, &settings);
    for (size_t i = 0; i < p->note_count && count < ROOM; i++) {
        const struct played_note *n = &p->notes[i];
        int64_t on_ns = (int64_t)(n->on_s * 1e9), off_ns = (int64_t)(n->off_s * 1e9);
        while (us_follower_tick(&f, on_ns, &felt))
            continue;
        double from = bench_us(CLOCK_MONOTONIC);
        us_follower_onset(&f, on_ns, n->pitch, n->velocity, &felt);
        took[count++] = bench_us(CLOCK_MONOTONIC) - from;
        if (i + 1 < p->note_count && n->off_s < n[1].on_s) us_follower_note_off(&f, off_ns, n->pitch);
    }
}

int main(void)
{
    for (int given = 1; given >= 0; given--) {
        for (int player = 0; player < PLAYERS; player++) {
            count = 0;
            for (int t = 0; t < TUNES; t++) {
                struct us_note notes[TUNE_NOTES];
                struct performance p;
                make_tune(notes);
                if (!player_perform((enum player)player, notes, TUNE_NOTES, 4, 0, 66 + chance(60),
                                    (uint64_t)t, &p))
                    return 1;
                play(&p, given);
                performance_finish(&p);
            }
            bench_sort(took, count);
            printf("follower, metre %-7s %-13s one note: median %.1f us, 99 %% %.1f us, worst %.0f us\n",
                   given ? "given" : "unknown", player_name((enum player)player), took[count / 2],
                   took[count * 99 / 100], took[count - 1]);
        }
    }
    return 0;
}
