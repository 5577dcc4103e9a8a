/* The learner beside the companion: a left hand of their own, a drill round the keys, a keyboard that is
   matched by ear. */
#ifndef CORE_COMPANION_LEARNER_H
#define CORE_COMPANION_LEARNER_H

#include "companion_state.h"

void us_learner_init(struct us_companion *c);
/* True where the note was not for the melody: the learner's left hand, or matching the keyboard. */
bool us_learner_note_on(struct us_companion *c, const struct us_event *event, struct us_actions *out);
/* True where the key was the learner's left hand's. */
bool us_learner_note_off(struct us_companion *c, int pitch);
/* A chord begins, or a bar: what the program strikes of it. */
enum us_part us_learner_part(struct us_companion *c, bool on_bar, struct us_actions *out);
/* A melody note in the drill; the run is over, in the key as announced last. */
void us_learner_melody(struct us_companion *c, int pitch, struct us_actions *out);
void us_learner_run_over(struct us_companion *c, struct us_actions *out);
/* While the keyboard is being matched: sounds the note to be matched, and when that is due. */
void us_learner_tick(struct us_companion *c, struct us_actions *out);
int64_t us_learner_due(const struct us_companion *c);

#endif
