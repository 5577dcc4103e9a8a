/* Saying in the player's terms what is heard and what is played: one line a note of the player. */
#ifndef APP_NARRATE_H
#define APP_NARRATE_H

#include <stdio.h>

#include "undersong/companion.h"

struct narrator {
    FILE *out;
    enum us_syllables syllables;
    bool began;
    struct us_key key;
    struct us_metre metre; /* that is given, or was told last; top 0: neither */
    struct us_metre guess; /* that is heard, since ... */
    double guess_from;     /* ... this place, in quarters */
    bool sure;             /* what was told last was no guess */
    bool knows_tune;
};

/* After a step: the event, the answer, and the state. */
void narrate(struct narrator *n, const struct us_event *event, const struct us_actions *actions,
             const struct us_snapshot *now);

#endif
