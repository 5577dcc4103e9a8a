/* What must hold for any stream of actions: the companion's promises to whoever plays along. */
#ifndef INVARIANTS_H
#define INVARIANTS_H

#include "undersong/companion.h"

struct invariants {
    int64_t last_ns;
    uint64_t note_ons, hash; /* of all actions, in order */
    uint8_t down[US_VOICES][US_PITCHES];
    int sounding[US_VOICES];
    bool round;       /* the second voice is a round: the player's own notes, chords and all */
    char broken[160]; /* the first promise that was broken, "" while all hold */
};

/* All zero is the start; `round` is set by who knows it.  Checks one step's answer: time never runs back, a
   note-on is of a silent pitch and a note-off of a sounding one, values are in range, and no more notes sound
   in a voice than it may have. */
void invariants_step(struct invariants *v, const struct us_actions *actions);
/* After a panic nothing sounds. */
void invariants_silent(struct invariants *v);

/* A companion with its promises watched. */
struct watched {
    struct us_companion *companion;
    struct invariants promises;
    int64_t now_ns;
    uint64_t ticks;
};
/* One event; then nothing else happens.  Who asks for other settings beside it says so with watched_settings.
 */
void watched_send(struct watched *w, struct us_event event);
/* After us_companion_init and us_companion_go_on: looks at what the second voice is now. */
void watched_settings(struct watched *w);
/* Time goes on to `until_ns`, with the ticks that the companion asks for. */
void watched_wait(struct watched *w, int64_t until_ns);

#endif
