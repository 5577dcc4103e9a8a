/* What a note says about the place in a known tune; not installed. */
#ifndef SCORE_STEP_H
#define SCORE_STEP_H

#include "undersong/score.h"

/* The places are kept from SCORE_FRONT on; past the last one all is 0. */
enum { SCORE_LANES = 4, SCORE_GROUPS = US_PITCH_CLASSES / SCORE_LANES, SCORE_FRONT = 4 };

static inline float *score_weight(struct us_score_follower *f, int transposition, int place)
{
    return &f->weight[transposition / SCORE_LANES][SCORE_FRONT + place][transposition % SCORE_LANES];
}

/* All places and transpositions go one note on, with `mass` and `most`; returns how well the note was
   foretold. Not for the first note. */
float score_hear(struct us_score_follower *f, int64_t at_ns, int pitch);

#endif
