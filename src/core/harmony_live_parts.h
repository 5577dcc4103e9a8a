/* Shared by the files of the live harmony: what it hears, what goes on to the hindsight, how often chords
   change. */
#ifndef UNDERSONG_HARMONY_LIVE_PARTS_H
#define UNDERSONG_HARMONY_LIVE_PARTS_H

#include "harmony_frame.h"

/* The notes that sound at `from` (quarters of the run) or later, each until the next.  `out` has room for
   US_LIVE_NOTES; returns how many. */
size_t us_harmony_live_notes_since(const struct us_harmony_live *h, double from, struct us_note *out);
/* How hymn-like the run is so far, 0 to 1. */
float us_harmony_live_style(const struct us_harmony_live *h, struct us_metre metre);

/* Nothing that follows belongs to the beats that the hindsight has heard. */
void us_harmony_live_begin_to_settle(struct us_harmony_live *h);
/* Beats that are over go on to the hindsight, but for the last `left` ones. */
void us_harmony_live_hand_on_until(struct us_harmony_live *h, uint32_t left);
/* The hindsight listens until at most `left` beats wait, and tells the memory what earlier ones were. */
void us_harmony_live_look_back(struct us_harmony_live *h, uint32_t left);

/* A note has ended: whether it closes a phrase.  Both in quarters. */
void us_harmony_live_notice_phrase(struct us_harmony_live *h, float length, float beat);
/* Judges how often chords change by the newest beat and its roles, which that makes likelier or less. */
void us_harmony_live_weigh_rate(struct us_harmony_live *h, const struct us_position *position,
                                double role[US_ROLES]);

#endif
