/* The left hand in time: what it has struck, what is still to come in this bar, and when. */
#ifndef CORE_LEFT_HAND_H
#define CORE_LEFT_HAND_H

#include "emit.h"
#include "undersong/texture.h"

/* A left-hand note that sounds, and the place in the bar until which it is held. */
struct us_held {
    uint8_t pitch;
    double until;
};

struct us_left_hand {
    struct us_held held[2 * US_LEFT_NOTES_MAX];
    uint8_t held_count;
    struct us_voicing before; /* the hand of the last chord, for least motion */
    int melody_before;        /* the melody's pitch when it was struck */
    int melody;               /* the melody's pitch now, or -1: inner strikes keep clear of it */
    int second;               /* and of a second voice's, or -1 */
    struct us_strike plan[US_STRIKES_MAX];
    uint8_t planned, next;
    double bar_end; /* quarters: where the plan ends */
    double here;    /* quarters from the bar line, at `here_ns` */
    int64_t here_ns;
    double quarter_ns;
    double next_beat; /* what lies at or after it waits until that beat is felt */
    uint8_t velocity; /* of a strike at level 100 */
};

/* What one stretch of left hand is made from. */
struct us_left_order {
    enum us_texture texture;
    struct us_chord chord;
    enum us_role role;
    struct us_metre metre;
    struct us_voicing_context context;
};

void us_left_init(struct us_left_hand *left);
/* A chord begins at the place set with us_left_place(): what sounds is released, the first strike sounds at
   once, the rest of the bar is planned. */
void us_left_begin(struct us_left_hand *left, const struct us_left_order *order, struct us_actions *out,
                   struct us_sounding *sounding);
/* Where in the bar the music is now, and how fast it goes; `next_beat` in quarters from the bar line. */
void us_left_place(struct us_left_hand *left, int64_t now_ns, double bar_quarters, double quarter_ns,
                   double next_beat);
/* Plays what is due at or before the present place, after us_left_place() or when us_left_due() has come. */
void us_left_play(struct us_left_hand *left, int64_t now_ns, struct us_actions *out,
                  struct us_sounding *sounding);
/* Releases what sounds and forgets the plan. */
void us_left_release(struct us_left_hand *left, int64_t now_ns, struct us_actions *out,
                     struct us_sounding *sounding);
/* The lower note of a grip came after the chord was struck under its upper one: what is not below it ends. */
void us_left_give_way(struct us_left_hand *left, int melody, int64_t now_ns, struct us_actions *out,
                      struct us_sounding *sounding);
/* When the next inner strike or release is due, or INT64_MAX. */
int64_t us_left_due(const struct us_left_hand *left);

#endif
