/* Time of one live beat (its note and the decision), of starting anew, and of a whole tune of 130 beats, in
   microseconds.  The player repeats strains and the key is now and then found to be another.  In playing the
   time until the next note is used for what can wait; a player faster than that leaves it to the beats. */
#include "bench_time.h"

#include <stdio.h>
#include <stdlib.h>

#include "undersong/harmony.h"

enum { BEATS = 40000, RUN = 128, TUNES = 300, TUNE_NOTES = 260 };

static void tell(const char *what, double *took, size_t count)
{
    bench_sort(took, count);
    printf("%s: median %.2f us, 99 %% %.2f us, worst %.1f us\n", what, took[count / 2],
           took[count / 100 * 99], took[count - 1]);
}

static void live(bool hurried)
{
    static struct us_harmony_live h;
    static double took[BEATS], anew[BEATS / RUN + 1];
    unsigned random = 1;
    struct us_key key = {0, US_MODE_MAJOR};
    size_t runs = 0;
    us_harmony_live_init(&h, NULL, US_CHORDS_PRIMARY, US_CHANGE_AUTO);
    for (int i = 0; i < BEATS; i++) {
        struct us_position at = {{4, 4}, i % RUN / 4, i % 4, i % 4 == 0, true};
        struct us_choice out;
        if (i % 32 == 0) random = (unsigned)(i / 1024 + 1);
        random = random * 1664525u + 1013904223u;
        if (i % RUN == 0) {
            double from = bench_us(CLOCK_MONOTONIC);
            us_harmony_live_fresh(&h);
            anew[runs++] = bench_us(CLOCK_MONOTONIC) - from;
        }
        if (i % 200 == 7) key.tonic = (int8_t)((key.tonic + 7) % 12);
        double from = bench_us(CLOCK_MONOTONIC);
        us_harmony_live_note(&h, key, &at, 60 + (int)(random >> 24) % 13);
        us_harmony_live_decide(&h, key, &at, &out);
        took[i] = bench_us(CLOCK_MONOTONIC) - from;
        if (!hurried) us_harmony_live_rest(&h);
    }
    tell(hurried ? "harmony, one live beat, no time between" : "harmony, one live beat", took, BEATS);
    tell("harmony, starting anew", anew, runs);
}

static void whole(void)
{
    static struct us_note notes[TUNE_NOTES];
    static double took[TUNES];
    static struct us_chord_choice out[TUNE_NOTES];
    unsigned random = 1;
    for (int i = 0; i < TUNE_NOTES; i++) {
        random = random * 1664525u + 1013904223u;
        notes[i] = (struct us_note){i * 0.5, 0.5, (int16_t)(60 + (random >> 24) % 13), 80};
    }
    struct us_tune tune = {.notes = notes, .note_count = TUNE_NOTES, .title = ""};
    struct us_harmony_request request = {.tune = &tune, .metre = {4, 4}, .chords = US_CHORDS_WIDE};
    void *workspace = malloc(us_harmony_workspace_size(&request));
    for (int i = 0; workspace && i < TUNES; i++) {
        double from = bench_us(CLOCK_MONOTONIC);
        us_harmony_tune(&request, workspace, out, TUNE_NOTES, NULL);
        took[i] = bench_us(CLOCK_MONOTONIC) - from;
    }
    tell("harmony, a whole tune of 130 beats, wide", took, TUNES);
    free(workspace);
}

int main(void)
{
    live(false);
    live(true);
    whole();
    return 0;
}
