/* A player who stumbles once, at a known note: how soon is the bar right again?  The habits are common
   practice, no source. */
#ifndef STUMBLES_H
#define STUMBLES_H

#include "players.h"

#include "undersong/follower.h"

enum stumble {
    STUMBLE_HESITATES,  /* two seconds too late */
    STUMBLE_STUTTERS,   /* the note is struck twice, the first time briefly */
    STUMBLE_REPEATS,    /* the note is played twice, the first time out of time */
    STUMBLE_FROM_LINE,  /* breaks off, and again from the bar line */
    STUMBLE_BAR_BEFORE, /* and again from the bar line before */
    STUMBLE_FROM_START, /* and again from the start */
    STUMBLES
};
const char *stumble_name(enum stumble stumble);

/* Plays the tune with one stumble at (or, breaking off, after) note `at`.  `right_s` gets the time of the bar
   line at which all must be well again: the next one, after going back the first that comes a bar later.
   Places in `out` are kept in step with the bar.  False where there is none, or no memory. */
bool player_stumble(enum stumble stumble, const struct us_note *notes, size_t count, double bar_quarters,
                    double pickup, double quarters_a_minute, size_t at, uint64_t seed,
                    struct performance *out, double *right_s);

/* How often the bar line is right again. */
struct recovery {
    double tried, right;
};
/* Lets a follower hear one such performance, told metre and pickup (`given`) or nothing, and adds whether the
   bar line is felt within 70 ms.  Adds nothing where there is no such bar line, or no memory. */
void recovery_add(struct recovery *r, enum stumble stumble, const struct us_tune *tune, bool given,
                  double quarters_a_minute, size_t at, uint64_t seed);

#endif
