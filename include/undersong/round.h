/* The round: the player's own melody comes back some bars later.  Positions are quarters since the run began,
   so that a round follows every change of tempo and waits where the player waits.  Pure, fixed size; one
   thread at a time. */
#ifndef UNDERSONG_ROUND_H
#define UNDERSONG_ROUND_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct us_round_note {
    double at, len; /* quarters; `len` is negative while the key is down */
    uint8_t pitch;
    uint8_t velocity;
    bool sounding; /* the answer to it sounds now */
};
enum { US_ROUND_NOTES_MAX = 512, US_ROUND_BARS_MAX = 16 };

/* Two places closer than this, in quarters, are the same one. */
#define US_ROUND_NEAR 1e-4

/* What has been heard: a ring, `first` and `count`.  The oldest note makes room when it is full. */
struct us_round {
    struct us_round_note note[US_ROUND_NOTES_MAX];
    uint32_t first, count, next; /* `next`: how many from the oldest on have been answered */
    double delay_quarters;       /* negative: no answer (yet) */
    double position_quarters;    /* how far the answer has come */
};

/* One note of the answer that begins or ends now. */
struct us_round_answer {
    bool on;
    uint8_t pitch;
    uint8_t velocity;
};

/* No delay, nothing to answer: silent until us_round_set_delay(). */
void us_round_init(struct us_round *r);
/* The answer comes so many quarters later.  Notes whose answer would be past already stay silent.  Call
   us_round_hush() first where an answer may sound. */
void us_round_set_delay(struct us_round *r, double delay_quarters);
/* The player's keys.  A note further back than the last one takes back what was played from there on. */
void us_round_note_on(struct us_round *r, double at_quarters, int pitch, int velocity);
void us_round_note_off(struct us_round *r, double at_quarters, int pitch);
/* A key that is down turned out not to be the melody's: its note is not answered. */
void us_round_take_back(struct us_round *r, int pitch);
/* Moves the answer on to a position; a position that falls back changes nothing.  Writes what begins and
   ends, offs first at the same place, and returns how many; call again while it returns `capacity`. */
size_t us_round_advance(struct us_round *r, double to_quarters, struct us_round_answer *out, size_t capacity);
/* Where the answer has its next beginning or end; INFINITY where nothing is known to come. */
double us_round_due(const struct us_round *r);
/* Ends every sounding answer: writes the ends and returns how many; call again while it returns `capacity`.
 */
size_t us_round_hush(struct us_round *r, struct us_round_answer *out, size_t capacity);
/* The same, and once all are ended forgets what was heard: the player starts anew. */
size_t us_round_clear(struct us_round *r, struct us_round_answer *out, size_t capacity);

/* How well a tune goes with itself that many bars later, 0 to 1: of the time in which both voices sound and
   not the same note (octaves are the same), the share that is consonant, strong beats counted twice. `unison`
   gets the share of the same note.  Consonant are thirds, fifth, sixths and their octaves; the fourth counts
   half (counterpoint primers, from memory).  Positions count from a bar line.  0 where the voices overlap in
   less than two bars or less than `bars`. */
double us_round_fit(const struct us_round_note *notes, size_t count, double bar_quarters, int bars,
                    double *unison);
/* A round fits from here on. */
#define US_ROUND_FITS 0.82
/* The entry at which the tune, or what was heard of it, goes best with itself: 1 to US_ROUND_BARS_MAX bars,
   or 0 when it goes with itself nowhere. `fit` may be NULL. */
int us_round_entry(const struct us_round_note *notes, size_t count, double bar_quarters, double *fit);
/* The same for what a round has heard so far, where at least four bars and as many as the entry is late go
   together. */
int us_round_heard_entry(const struct us_round *r, double bar_quarters, double *fit);
/* us_round_fit() of what a round has heard so far. */
double us_round_heard_fit(const struct us_round *r, double bar_quarters, int bars);

#endif
