/* The beats of a bar or half bar in which chords do not change. */
#ifndef UNDERSONG_HARMONY_UNITS_H
#define UNDERSONG_HARMONY_UNITS_H

#include "harmony_internal.h"

enum { US_UNIT_STATES_MAX = US_HARMONY_CLASSES };

/* Makes the probabilities `p` (count * states, each beat's adding up to 1) what they are where, as likely as
   `share`, no chord changes inside a half bar (inside a bar, where the metre has no half): then all beats of
   it have one chord and speak for it together.  Units with a given chord stay as they are. */
void us_units_speak(const struct us_beat_view *views, const struct us_chord *given, size_t count,
                    double share, double *p, int states);

#endif
