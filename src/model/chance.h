/* Chance from a seed, for simulated players.  Not installed. */
#ifndef CHANCE_H
#define CHANCE_H

#include <math.h>
#include <stdint.h>

struct chance {
    uint64_t state;
};

/* 0 to 1, without 1. */
static inline double chance_uniform(struct chance *c)
{
    uint64_t z = c->state += 0x9E3779B97F4A7C15U;
    z = (z ^ (z >> 30)) * 0xBF58476D1CE4E5B9U;
    z = (z ^ (z >> 27)) * 0x94D049BB133111EBU;
    return (double)((z ^ (z >> 31)) >> 11) * 0x1p-53;
}

/* `low` to `high`, without it. */
static inline double chance_between(struct chance *c, double low, double high)
{
    return low + (high - low) * chance_uniform(c);
}

/* Mean 0, deviation 1: the normal distribution (Box and Muller 1958). */
static inline double chance_bell(struct chance *c)
{
    double radius = sqrt(-2 * log(1 - chance_uniform(c)));
    return radius * cos(6.283185307179586 * chance_uniform(c));
}

#endif
