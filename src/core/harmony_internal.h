/* Shared by the files of the harmony module, and of its explanations. */
#ifndef UNDERSONG_HARMONY_INTERNAL_H
#define UNDERSONG_HARMONY_INTERNAL_H

#include <math.h>

#include "undersong/harmony.h"
#include "undersong/harmony_tables.h"

/* A logarithm that tables say.  By the built-in ones it stays below 50; by a teacher's own it might be more
   than an exponential bears, or no number at all. */
static inline float us_bounded(float said)
{
    return fminf(fmaxf(said, -60), 60);
}

/* What was heard so far counts half as much as what comes. */
static inline void us_halve(float *sums, size_t count)
{
    for (size_t i = 0; i < count; i++)
        sums[i] /= 2;
}

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
/* The request's key at a time. */
struct us_key us_harmony_key_at(const struct us_harmony_request *request, double at);
/* Whether `change` lets a chord begin at this position. */
bool us_harmony_may_change(enum us_change change, const struct us_position *position);

/* ---- classes of chords: root above the tonic times two, plus one where the third is minor */
enum { US_HARMONY_ROLES = US_ROLES - 1 }; /* as the networks count them: 0 is I */

/* How welcome a primary triad is that lacks the note it is struck with, against the chord it stands in for.
 */
#define US_CLASH 0.7
/* The same where it rubs against that note, a semitone apart, as i does under the sixth step of minor: there
   the chord that is meant, VI, would please and the triad that stands for it would not. */
#define US_RUB 0.2

/* How much of a role's probability is meant for its own triad, by what the networks say of each chord; the
   rest is for chords that it stands in for, of which the likeliest class goes to `other` (-1: there is none).
 */
double us_harmony_own_share(const float class_outs[US_HARMONY_CLASSES], struct us_key key, enum us_role role,
                            int *other);
/* The notes of a role's primary triad, in semitones above the tonic. */
us_pcset us_harmony_tones_above(struct us_key key, enum us_role role);
/* Whether a primary triad lacks the step, so many semitones above the tonic, and has a note beside it. */
bool us_harmony_rubs(struct us_key key, enum us_role role, int step);
/* How welcome a primary triad is under the note it is struck with, `step` semitones above the tonic; `own` of
   its probability is meant for the triad itself, the rest for chords that it stands in for. */
double us_harmony_welcome(struct us_key key, enum us_role role, int step, double own);

int us_class_of(struct us_chord chord, struct us_key key);
struct us_chord us_class_chord(int class, struct us_key key, const struct us_harmony_tables *tables);
enum us_role us_class_role(int class, struct us_key key);
/* The class of the wide vocabulary that stands for `class`, or -1. */
int us_class_fold(int class, struct us_key key);

/* Fills `out` from probabilities: `role` (US_ROLES, of which the first is 0) and `class` (may be NULL). */
void us_harmony_choose(const double *role, const double *class, struct us_key key, enum us_chords chords,
                       const struct us_harmony_tables *tables, struct us_choice *out);

#endif
