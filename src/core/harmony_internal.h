/* Shared by the files of the harmony module only. */
#ifndef UNDERSONG_HARMONY_INTERNAL_H
#define UNDERSONG_HARMONY_INTERNAL_H

#include "undersong/harmony.h"

/* How well a melody step (semitones above the tonic) goes with a role, as a log-probability. */
double us_harmony_fit(struct us_key key, enum us_role role, int pitch);
/* Log-probability of going from one role to another at a beat. */
double us_harmony_move(enum us_role from, enum us_role to, bool on_bar);
/* Turns probabilities of roles into a chord and its alternatives, within the vocabulary. */
void us_harmony_choose(const double role[US_ROLES], struct us_key key, enum us_chords chords,
                       struct us_choice *out);

/* ---- the beats of a tune */
struct us_grid {
    double first; /* length of the cut beat at the start, 0 where there is none */
    double beat, bar, pickup, end;
    size_t count;
};
void us_grid_make(struct us_grid *grid, const struct us_harmony_request *request);
double us_grid_at(const struct us_grid *grid, size_t beat);
void us_grid_position(const struct us_grid *grid, const struct us_harmony_request *request, size_t beat,
                      struct us_position *out);
/* Whether `change` lets a chord begin at this position. */
bool us_harmony_may_change(enum us_change change, const struct us_position *position);

#endif
