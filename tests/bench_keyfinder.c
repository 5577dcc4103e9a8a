/* Time of one note in the key finder: median, 99th percentile and worst of many, in microseconds. */
#include "bench_time.h"

#include <stdio.h>
#include <stdlib.h>

#include "undersong/keyfinder.h"

enum { NOTES = 200000 };

int main(void)
{
    static double took[NOTES];
    struct us_keyfinder k;
    unsigned random = 1;
    int tonics = 0;
    us_keyfinder_init(&k);
    for (int i = 0; i < NOTES; i++) {
        random = random * 1664525u + 1013904223u;
        double from = bench_us(CLOCK_MONOTONIC);
        us_keyfinder_note(&k, 60 + (int)(random >> 24) % 13, 1, i % 100 == 0);
        tonics += us_keyfinder_best(&k, NULL).tonic;
        took[i] = bench_us(CLOCK_MONOTONIC) - from;
    }
    bench_sort(took, NOTES);
    printf("key finder, one note: median %.2f us, 99 %% %.2f us, worst %.1f us (%d)\n", took[NOTES / 2],
           took[NOTES / 100 * 99], took[NOTES - 1], tonics);
    return 0;
}
