/* From the probabilities of each beat to chords that last: the way through the beats on which as many beats
   as possible are likely to be right, less what each change costs. */
#ifndef UNDERSONG_HARMONY_DECIDE_H
#define UNDERSONG_HARMONY_DECIDE_H

#include <stddef.h>
#include <stdint.h>

enum { US_DECIDE_STATES_MAX = 24 };

/* `p` holds count * states probabilities, `cost[t]` how many beats a change at beat t must gain, INFINITY
   where none may be.  `back` needs count * states bytes; the state of each beat goes to `way`. */
void us_decide(const double *p, const double *cost, size_t count, int states, uint8_t *back, uint8_t *way);

#endif
