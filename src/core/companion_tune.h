/* The companion's knowledge of the tune: takes the lead from the beat follower while a known tune is being
 * played. */
#ifndef CORE_COMPANION_TUNE_H
#define CORE_COMPANION_TUNE_H

#include "companion_state.h"

void us_known_tune_init(struct us_known_tune *t, const struct us_companion_settings *settings);
/* One note; `felt` is the beat follower's opinion and is replaced where a tune leads. */
void us_known_tune_note(struct us_known_tune *t, const struct us_companion_settings *settings, int64_t at_ns,
                        int pitch, struct us_felt *felt);
/* Between notes, at a tick: the songbook goes on with the last one, which may be the one that tells the tune.
   Due at once after a note until the whole book has heard it. */
void us_known_tune_tick(struct us_known_tune *t, const struct us_companion_settings *settings);
int64_t us_known_tune_due(const struct us_known_tune *t, int64_t now_ns);
/* The tune's chord at the place that is sounding; US_NO_CHORD where no tune leads or none is written. */
struct us_chord us_known_tune_chord(const struct us_known_tune *t);

#endif
