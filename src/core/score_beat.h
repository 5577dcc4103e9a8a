/* Beats from a known tune: where the player stands in it says where the beats are, and which of them come
   with no note of the player. */
#ifndef CORE_SCORE_BEAT_H
#define CORE_SCORE_BEAT_H

#include "undersong/follower.h"
#include "undersong/score.h"

struct us_score_beat {
    double here; /* quarters from the start of the file, of the last note or declared beat */
    int64_t here_ns;
    double quarter_ns;
    double until; /* no beat is declared by time at or after this place: the next written note is there */
    double end;   /* the tune's end */
    bool running;
};

/* What is felt at the note that was just given to us_score_note(). */
void us_score_beat_onset(struct us_score_beat *b, const struct us_score_follower *f, int64_t at_ns,
                         double quarter_ns, struct us_felt *out);
int64_t us_score_beat_due(const struct us_score_beat *b, const struct us_score *score);
/* As us_follower_tick(). */
bool us_score_beat_tick(struct us_score_beat *b, const struct us_score *score, int64_t now_ns,
                        struct us_felt *out);

#endif
