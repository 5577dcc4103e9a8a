/* Putting actions into the answer of a step, and knowing what sounds: each note-on gets exactly one note-off.
 */
#ifndef CORE_EMIT_H
#define CORE_EMIT_H

#include "undersong/event.h"

/* What sounds in each voice: bit sets of pitches. */
struct us_sounding {
    uint8_t down[US_VOICES][US_PITCHES / 8];
    uint8_t count[US_VOICES];
};

bool us_sounds(const struct us_sounding *sounding, enum us_voice voice, int pitch);
/* A note begins; one that sounds already is released first.  Pitches outside 0 to 127 are left out, and
   notes beyond what one step could release. */
void us_emit_on(struct us_actions *out, struct us_sounding *sounding, int64_t now_ns, enum us_voice voice,
                int pitch, int velocity);
/* A note ends; nothing happens where it does not sound. */
void us_emit_off(struct us_actions *out, struct us_sounding *sounding, int64_t now_ns, enum us_voice voice,
                 int pitch);
void us_emit_all_off(struct us_actions *out, struct us_sounding *sounding, int64_t now_ns,
                     enum us_voice voice);
/* Room for an action that is no note; NULL when the answer is nearly full: notes go first. */
struct us_action *us_emit(struct us_actions *out, int64_t now_ns, enum us_action_kind kind,
                          enum us_voice voice);

#endif
