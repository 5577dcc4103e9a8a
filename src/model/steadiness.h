/* How steadily bars are counted while a tune is played: what a reader of bar numbers sees. */
#ifndef STEADINESS_H
#define STEADINESS_H

#include "players.h"

#include "undersong/follower.h"

enum { PLACES_MAX = 32768 };

/* One answer of the follower: where it said the player was. */
struct felt_place {
    double s, bar_quarters; /* when; how far from the bar line */
    int32_t bar;
    struct us_metre metre;
    bool line, fresh; /* a bar line declared for the first time; the run began anew */
};

struct felt_places {
    struct felt_place list[PLACES_MAX];
    size_t count;
};

/* Counted from the fifth bar of each tune on. */
struct steadiness {
    double bars;          /* full bars of the tunes */
    double other_metre;   /* answers in another metre than the one before */
    double jumps;         /* answers whose bar number goes back, or on by more than time has gone by */
    double felt, uneven;  /* bars felt; of these, longer or shorter than most of the tune's */
    double lines, number; /* bar lines felt where they are; of these, with the right number */
};

/* Keeps one answer, the first PLACES_MAX of a tune. */
void steadiness_hear(struct felt_places *places, const struct us_felt *felt);
/* Adds the judgement of a tune's answers. */
void steadiness_add(struct steadiness *sum, const struct us_tune *tune, const struct performance *p,
                    const struct felt_places *felt);

#endif
