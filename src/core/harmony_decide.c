#include "harmony_decide.h"

#include <stdbool.h>
#include <string.h>

static int best_of(const double *x, int count)
{
    int best = 0;
    for (int i = 1; i < count; i++)
        if (x[i] > x[best]) best = i;
    return best;
}

void us_decide(const double *p, const double *cost, size_t count, int states, uint8_t *back, uint8_t *way)
{
    double sum[US_DECIDE_STATES_MAX];
    size_t n = (size_t)states;
    if (count == 0) return;
    memcpy(sum, p, n * sizeof *sum);
    for (size_t t = 1; t < count; t++) {
        int best = best_of(sum, states);
        double moved = sum[best] - cost[t];
        for (int i = 0; i < states; i++) {
            bool stays = sum[i] >= moved;
            back[t * n + (size_t)i] = (uint8_t)(stays ? i : best);
            sum[i] = (stays ? sum[i] : moved) + p[t * n + (size_t)i];
        }
    }
    way[count - 1] = (uint8_t)best_of(sum, states);
    for (size_t t = count - 1; t > 0; t--)
        way[t - 1] = back[t * n + way[t]];
}
