/* The melody of this practice so far, followed like a known tune: where in it the player is again, in any
   key, after going back or starting over without a pause, too.  Pure, fixed size; one thread at a time. */
#ifndef UNDERSONG_STRAIN_H
#define UNDERSONG_STRAIN_H

#include "undersong/follower.h"
#include "undersong/score.h"

enum { US_STRAIN_NOTES = 512 };

/* What was true when a note was played. */
struct us_strain_note {
    int64_t at_ns;
    double place;        /* quarters since the run began */
    double bar_quarters; /* since the bar line */
    double bar;          /* quarters from one bar line to the next */
    double quarter_ns;   /* the tempo; 0 unknown */
    struct us_key key;
    uint32_t onset; /* the follower's number of it */
    int16_t pitch;
    bool starts; /* a bar line, or the player starts anew */
};

struct us_strain {
    struct us_score score; /* the melody; what is played again is not written twice */
    struct us_score_follower follow;
    struct us_strain_note note[US_STRAIN_NOTES]; /* as in `score` */
    struct us_strain_note waits, last;           /* not heard yet; heard last */
    bool is_waiting;
    bool apart;    /* the next new note does not go on from the last one written */
    int16_t run;   /* notes one after the other that were found again */
    bool again;    /* the player is in a strain that was played before */
    double off;    /* quarters by which it lies later in the bar than then, less than a bar */
    int16_t offs;  /* for how many notes it has done so */
    int16_t agree; /* at how many notes it has lain at the same place of the bar since it was found */
    int16_t place; /* then: the note that was played last */
    int8_t up;     /* and how many semitones higher it is now, 0 to 11 */
};

/* Nothing was played yet. */
void us_strain_init(struct us_strain *s);
/* Takes in a melody note; it is looked for by us_strain_work(). */
void us_strain_hear(struct us_strain *s, const struct us_strain_note *note);
/* Between notes: looks for the last note.  True where it was one that is played again: `again`, `place` and
   `up` are new. */
bool us_strain_work(struct us_strain *s);

#endif
