/* A chain of states, beat by beat: the probability of each state at each beat given all beats. */
#ifndef UNDERSONG_HARMONY_CHAIN_H
#define UNDERSONG_HARMONY_CHAIN_H

#include <stdbool.h>
#include <stddef.h>

struct us_chain {
    size_t count;
    int states;
    /* How well a state fits beat t, and a move from one to another at it; not normalized, never all 0. */
    double (*here)(const void *user, size_t t, int state);
    double (*move)(const void *user, size_t t, int from, int to);
    const void *user;
};

enum { US_CHAIN_STATES_MAX = 24 };
/* The probability of each state at each beat goes to `out` (count * states, beat by beat), which adds up to 1
   at each beat. */
void us_chain_judge(const struct us_chain *chain, double *out);

#endif
