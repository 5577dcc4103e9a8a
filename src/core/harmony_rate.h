/* How often the chords of a tune change: by the bar, the half bar or the beat.  The clues are gathered beat
   by beat, over a whole tune or while it is played; their weights are learned from tunes with chords. */
#ifndef UNDERSONG_HARMONY_RATE_H
#define UNDERSONG_HARMONY_RATE_H

#include "harmony_internal.h"

void us_rate_start(struct us_rate_clues *clues);
/* A beat begins: its frame as far as it is known now, and the probabilities of the roles at it. */
void us_rate_begin_beat(struct us_rate_clues *clues, const struct us_position *position, const float *frame,
                        const double role[US_ROLES]);
/* A beat is over: `body` is a frame that holds what sounded inside it. */
void us_rate_end_beat(struct us_rate_clues *clues, struct us_key key, const float *body);

/* What was heard so far counts half as much as what comes. */
void us_rate_forget(struct us_rate_clues *clues);

/* The numbers that the weights are for.  `style` is 0 for a dance to 1 for a hymn. */
void us_rate_numbers(const struct us_rate_clues *clues, struct us_metre metre, struct us_key key, float style,
                     float x[US_RATE_CLUES]);
/* The probability of each rate, US_CHANGE_BAR first; a rate that the metre lacks gets 0. */
void us_rate_judge(const float weights[US_RATES][US_RATE_CLUES], const float x[US_RATE_CLUES],
                   struct us_metre metre, float rate[US_RATES]);
/* Whether the metre has that rate: bars of three have no half, bars of two no beat beside it. */
bool us_rate_fits(enum us_change rate, struct us_metre metre);

/* What a change of chord at this position has to gain, in beats that are likely to be right, where chords
   change at each rate with that probability; the more hymn-like a tune (by its `style`) the less. */
double us_rate_cost(const float rate[US_RATES], const struct us_position *position, float style);
/* How much likelier the chord that sounds is to stay than if nothing were known (natural log), live. */
double us_rate_stay(const float rate[US_RATES], const struct us_position *position, float style);

#endif
