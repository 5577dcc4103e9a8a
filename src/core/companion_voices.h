/* The second voice inside the companion: where the run stands in quarters, and what sounds beside the melody.
 */
#ifndef CORE_COMPANION_VOICES_H
#define CORE_COMPANION_VOICES_H

#include "companion_state.h"

void us_voices_init(struct us_companion *c);
/* A place was felt, now. */
void us_voices_place(struct us_companion *c, const struct us_felt *felt);
/* Where the run stands now, in quarters since its first bar line; it waits with the player.  0 between runs.
 */
double us_voices_place_now(const struct us_companion *c);
/* The tune is known: where a round of it enters.  NULL: it is none, or no longer the one that it was taken
 * for. */
void us_voices_know(struct us_companion *c, const struct us_score *score);
/* A melody note began; the second voice answers it in us_voices_sing(), once the chord is known. */
void us_voices_hear(struct us_companion *c, int pitch, int velocity);
void us_voices_sing(struct us_companion *c, struct us_actions *out);
void us_voices_note_off(struct us_companion *c, int pitch, struct us_actions *out);
/* A key that was heard turned out to be the learner's left hand's: no answer comes to it. */
void us_voices_take_back(struct us_companion *c, int pitch);
/* Time has come to the companion's now. */
void us_voices_tick(struct us_companion *c, struct us_actions *out);
/* The run is over or begins anew; what the player still holds ends on the page. */
void us_voices_end(struct us_companion *c, struct us_actions *out);
/* The player has come to the end of a known tune and the round still has to answer: it goes on by the tempo.
 */
bool us_voices_finish(const struct us_companion *c);
int64_t us_voices_due(const struct us_companion *c);

#endif
