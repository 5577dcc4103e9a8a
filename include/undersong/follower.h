/* Where in the bar the player is, and how fast: beat following from onsets alone.  Several hypotheses of
   tempo, metre, bar line and pickup live side by side.  Pure, fixed size, no clock: time is an argument. */
#ifndef UNDERSONG_FOLLOWER_H
#define UNDERSONG_FOLLOWER_H

#include "undersong/metre.h"

struct us_follower_settings {
    struct us_metre metre;    /* top 0: find it */
    double pickup;            /* quarters before the first bar line; negative: find it */
    double quarters_a_minute; /* 0: find it; else where to start looking */
};

/* What is felt at an onset, or at a beat that comes with no onset. */
struct us_felt {
    int64_t at_ns;
    double
        bar_quarters; /* position inside the bar, 0 at the bar line, on the finest grid the follower knows */
    int32_t bar;      /* bars since the run began; 0 is the first full bar, -1 the pickup */
    struct us_metre metre;
    double quarter_ns; /* the tempo now */
    bool on_bar;       /* at a bar line */
    bool on_beat;      /* at a beat of the metre (dotted quarters in 6/8) */
    bool on_onset;     /* with a note of the player; false: timed by the tempo alone */
    bool fresh;        /* the player has started anew: position and run were reset */
    double sure;       /* 0 to 1, trust in the bar position */
};

struct us_follower; /* defined in follower_state.h beside the implementation's tables; caller-owned, fixed
                       size */

#endif
