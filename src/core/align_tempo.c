#include "align_tempo.h"

enum { AROUND = 8, WINDOW = 2 * AROUND + 1 };

/* Nanoseconds a quarter between this note and the one of the tune before it in the same run; 0: none. */
static double quarter_at(const struct us_played *played, const struct us_tune *tune,
                         const struct us_aligned *out, size_t i)
{
    if (out[i].kind == US_ALIGN_EXTRA || out[i].begins) return 0;
    for (size_t b = i; b-- > 0;) {
        if (out[b].kind != US_ALIGN_EXTRA) {
            double quarters = tune->notes[out[i].note].at - tune->notes[out[b].note].at;
            double ns = (double)(played[i].at_ns - played[b].at_ns);
            return quarters > 0 && ns > 0 ? ns / quarters : 0;
        }
        if (out[b].begins) return 0;
    }
    return 0;
}

static void insert(double *sorted, size_t *count, double value)
{
    size_t at = (*count)++;
    for (; at > 0 && sorted[at - 1] > value; at--)
        sorted[at] = sorted[at - 1];
    sorted[at] = value;
}

/* First and last note of the run that note `i` is in. */
static void run_around(const struct us_aligned *out, size_t count, size_t i, size_t *from, size_t *until)
{
    *from = *until = i;
    while (*from > 0 && !out[*from].begins)
        --*from;
    while (*until + 1 < count && !out[*until + 1].begins)
        ++*until;
}

void align_tempo(const struct us_played *played, size_t count, const struct us_tune *tune,
                 struct us_aligned *out)
{
    size_t from = 0, until = 0;
    for (size_t i = 0; i < count; i++) {
        if (i == 0 || out[i].begins) run_around(out, count, i, &from, &until);
        double sorted[WINDOW], value;
        size_t n = 0;
        /* As many on each side as there are, more on the other side where one ends. */
        for (size_t step = 0; n < WINDOW && step <= until - from; step++) {
            if (i + step <= until && (value = quarter_at(played, tune, out, i + step)) > 0)
                insert(sorted, &n, value);
            if (step && n < WINDOW && i >= from + step &&
                (value = quarter_at(played, tune, out, i - step)) > 0)
                insert(sorted, &n, value);
        }
        out[i].quarter_ns = n ? sorted[(n - 1) / 2] : 0;
    }
}
