/* bench_synth: how long 256 frames take with a melody note and three in the left hand, and with 32
   voices; 5.33 ms are there for it.  Figures, not checks. */
#include "undersong/clock.h"
#include "undersong/synth.h"

#include <stdio.h>
#include <stdlib.h>

static int by_size(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return x < y ? -1 : x > y;
}

static void bench(int notes)
{
    enum { FRAMES = 256, BUFFERS = 4000 };
    static float left[FRAMES], right[FRAMES];
    static double ms[BUFFERS];
    struct us_patch patch;
    struct us_synth *synth;
    struct us_error error;
    struct us_queue *queue = us_queue_create(0);
    us_patch_default(&patch);
    patch.voice[US_VOICE_MELODY].program = patch.voice[US_VOICE_LEFT].program =
        19; /* an organ does not fade */
    if (us_synth_create(&synth, NULL, 48000, 1, &patch, &error)) {
        puts(error.text);
        exit(1);
    }
    for (int i = 0; i < notes; i++) {
        struct us_action a = {
            .kind = US_ACTION_NOTE_ON, .voice = US_VOICE_LEFT, .pitch = (uint8_t)(48 + i), .velocity = 90};
        us_queue_push(queue, &a);
    }
    for (int i = 0; i < BUFFERS; i++) {
        int64_t at = us_clock_ns();
        us_synth_render(synth, queue, left, right, 1, FRAMES);
        ms[i] = (double)(us_clock_ns() - at) * 1e-6;
    }
    qsort(ms, BUFFERS, sizeof *ms, by_size);
    printf("256 frames, %2d notes: median %.3f, 99 %% %.3f, worst %.3f ms (99 %% is %.1f %% of 5.33 ms)\n",
           notes, ms[BUFFERS / 2], ms[BUFFERS * 99 / 100], ms[BUFFERS - 1],
           ms[BUFFERS * 99 / 100] / 5.333 * 100);
    us_synth_destroy(synth);
    us_queue_destroy(queue);
}

int main(void)
{
    bench(4);
    bench(32);
    return 0;
}
