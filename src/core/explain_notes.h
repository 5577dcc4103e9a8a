/* What the melody does under one chord: the facts that explanations are made of. */
#ifndef CORE_EXPLAIN_NOTES_H
#define CORE_EXPLAIN_NOTES_H

#include "undersong/explain.h"

enum note_role { NOTE_TONE, NOTE_PASSING, NOTE_NEIGHBOUR, NOTE_LEADING, NOTE_LEANING, NOTE_FREE };

struct heard_note {
    size_t index; /* in the tune */
    int pitch;
    double weight; /* how long it sounds here, more on the beat and on the bar line */
    bool strong;   /* on a beat, or held into the part */
    enum note_role role;
};

enum { HEARD_MAX = 48, MAIN_STEPS_MAX = 4 };

struct heard {
    struct us_key key;
    struct us_chord chord;
    struct heard_note notes[HEARD_MAX];
    size_t count;
    int main[MAIN_STEPS_MAX]; /* pitches, one for each main step, in the order heard */
    size_t main_count;
    bool begins; /* a note begins in the part */
    int peak;    /* pitch of a peak of the line inside the part, or -1 */
    size_t run_from,
        run_until; /* notes of the longest run by step (indices in the tune); empty where equal */
};

void us_hear(const struct us_explain *e, struct us_chord chord, double from, double until, struct heard *out);
/* Whether all the main steps are in the chord; false where there are none. */
bool us_heard_holds(const struct heard *h, us_pcset tones);

#endif
