/* Simulated players: a written tune becomes a performance with the times at which its beats really were.  Two
   families with different habits, so that nothing is fitted to one.  Same seed, same performance.  The habits
   are common practice, no source. */
#ifndef PLAYERS_H
#define PLAYERS_H

#include "undersong/tune.h"

/* Plain players: even time that wanders, stops before hard notes, wrong notes, stutters.  Singing players:
   phrases that push on and hold back, long notes leaned on, grace notes, swing, two-note chords, accents. One
   of them ornaments: short notes crushed in before the beat, one or two; mordents on it; turns before the
   next note; trills. */
enum player {
    PLAYER_STEADY,
    PLAYER_LEARNER,
    PLAYER_STRUGGLING,
    PLAYER_EVEN_SINGING,
    PLAYER_SINGING,
    PLAYER_FREE_SINGING,
    PLAYER_GOING_BACK, /* breaks off, and begins again from a bar line or from the start */
    PLAYER_ORNAMENTED,
    PLAYERS
};
const char *player_name(enum player player);

struct played_note {
    double on_s, off_s; /* seconds from the start */
    int16_t pitch, velocity;
    bool added; /* an ornament's: not written */
};

/* When a place in the performance was reached, in quarters as played, and how many of these were played
   before the same place of the tune: strains begun again. */
struct played_place {
    double quarters, s, again;
};

struct performance {
    struct played_note *notes; /* by time of their start */
    size_t note_count;
    struct played_place *places; /* by place */
    size_t place_count;
    double end_quarters; /* the last note's end; a strain begun again counts again, from a bar line */
};

/* Plays `count` notes, by time, at about `quarters_a_minute`.  `pickup` is in quarters.  False without notes
   or memory; there is nothing to finish then. */
bool player_perform(enum player player, const struct us_note *notes, size_t count, double bar_quarters,
                    double pickup, double quarters_a_minute, uint64_t seed, struct performance *out);
void performance_finish(struct performance *p);
/* The time in seconds of a place in quarters as played, between the known ones by proportion, and beyond the
   first and last as beside them. */
double performance_clock(const struct performance *p, double quarters);
/* The place of the tune as written that is played there. */
double performance_written(const struct performance *p, double quarters);

#endif
