/* What the follower's files share; not installed. */
#ifndef FOLLOWER_PARTS_H
#define FOLLOWER_PARTS_H

#include "undersong/follower_state.h"

#include <string.h>

/* Lengths from one onset to the next that the follower knows, in ticks. */
enum { RHYTHM_STEPS = 18, RHYTHM_CLASSES = 9, RHYTHM_SLOTS = 36, RHYTHM_TABLES = 7 };
/* Tables for metres that have none of their own: only the place in the beat counts. */
enum { TABLE_SIMPLE = 5, TABLE_COMPOUND = 6 };
/* Turns of the melody around a note: the interval before and the interval after, seven sizes each. */
enum { CONTOUR_SIZES = 7, CONTOURS = CONTOUR_SIZES * CONTOUR_SIZES, CONTOUR_PLACES = 10 };
/* The first interval of a tune, from an octave down to an octave up. */
enum { OPENINGS = 25 };
extern const int16_t RHYTHM_TICKS[RHYTHM_STEPS];
extern const float STEP_QUARTERS[RHYTHM_STEPS], LOG_STEP_QUARTERS[RHYTHM_STEPS];
static const float PHASE_DRIFT_S = 0.008F; /* how far the beat itself strays, a quarter */
enum { NO_STEP = 255 };
static const float USUAL_GRACES = 0.02F; /* of a player's notes */

/* How an onset was read. */
enum guess_how {
    HOW_FIRST,
    HOW_PLAYED,
    HOW_HESITATED,
    HOW_STUTTERED,
    HOW_ORNAMENT, /* after the note that it adorns */
    HOW_GRACE,    /* before it */
    HOW_RESTARTED,
    HOW_STARTED,
    HOW_STRETCHED
};

/* Logarithms, in sixteenths of a neper, of the probability of each step from this place after `last_step`. */
const int8_t *rhythm_row(const struct us_follower_metre *metre, int32_t ticks, uint8_t last_step);
/* The table's column for a place, and for the step before. */
int rhythm_slot(int32_t place);
int rhythm_class(uint8_t last_step);
/* A quarter in two uneven notes: the first one's length, dotted or as in triplets. */
enum { DOTTED_TICKS = 18, LILTING_TICKS = 16 };
/* Whether a quarter of a simple metre, or a dotted quarter of a compound one, begins here. */
bool rhythm_on_quarter(const struct us_follower_metre *metre, int32_t ticks);
/* Who has played so many of the last eight quarters unevenly (a bit each) does so again: logarithms of the
   probability that the next one is uneven, and that it is not.  False where there were none. */
bool rhythm_uneven_again(uint8_t uneven, float *log_again, float *log_else);
/* How much likelier, in sixteenths of a neper, the turn is at this place than anywhere. */
int contour_evidence(const struct us_follower_metre *metre, int32_t ticks, int contour);
int contour_of(int before, int pitch, int after);
/* The same for a tune's first interval, of a tune that begins `ticks` before or after a bar line. */
int opening_evidence(const struct us_follower_metre *metre, int32_t ticks, int opening);
int opening_of(int pitch, int after);
int contour_place(const struct us_follower_metre *metre, int32_t ticks);
/* The follower's view of a metre; any metre gets one. */
struct us_follower_metre rhythm_metre(struct us_metre metre, float log_prior);

/* What the newest note tells, the same for all guesses. */
struct news {
    double at_s;
    float gap_s, log_gap; /* since the onset before */
    float log_hold;       /* logarithm of the length for which the last key was held; none with `held` */
    float half_log_hold_var, half_per_hold_var;
    float tempo_centre; /* logarithm of a quarter's likely length */
    bool held;          /* that key was still down */
    int contour;        /* the turn around the note before, or -1 */
    int opening;        /* the tune's first interval, or -1 */
    uint8_t pitch;
    bool same_pitch;
    bool trills;    /* at once, and back to the key before the last one */
    float soft;     /* how much softer than usual the newest note is, in usual deviations */
    float accent;   /* how much louder than usual the note before was, in usual deviations */
    bool after_end; /* the run had ended before */
};

/* One way to read the newest note. */
struct candidate {
    float score, error_s;
    float foreseen;     /* HOW_GRACE: see struct us_follower_guess */
    int32_t jump_ticks; /* HOW_RESTARTED: how far on */
    int32_t to_ticks;   /* HOW_STARTED: the place of this first note */
    uint16_t parent;
    uint8_t how, step, metre;
    uint8_t alike;  /* HOW_RESTARTED: how many notes, up to the newest, have been played again */
    uint32_t again; /* HOW_RESTARTED: the number of the note that is played again */
};
enum { CANDIDATES = 1536 };
struct pool {
    struct candidate list[CANDIDATES];
    int count;
    float best;
    float rise; /* by how much the density of an onset may raise a score at most */
};
static const float KEEP_WITHIN = 9.8F; /* nepers below the best: a little more than what is carried on */

static inline void offer(struct pool *pool, struct candidate c)
{
    if (!(c.score > pool->best - KEEP_WITHIN) || pool->count == CANDIDATES) return;
    if (c.score > pool->best) pool->best = c.score;
    pool->list[pool->count++] = c;
}

/* The player stops, for so long, and goes back (follower_back.c). */
float log_stop(float stop_s);
void expand_restarts(const struct us_follower *f, uint16_t index, struct pool *pool);
void expand_lines(const struct us_follower *f, uint16_t index, const struct news *news, float stopped,
                  struct pool *pool);
void expand_starts(const struct us_follower *f, uint16_t index, const struct news *news, struct pool *pool);
void expand_all(const struct us_follower *f, const struct news *news, struct pool *pool);
/* How far off, squared, an onset so many quarters on may be. */
float predicted_variance(const struct us_follower *f, const struct us_follower_guess *g, float quarters);
/* How likely a tune begins so many ticks before its first bar line; index 0 to PICKUPS - 1. */
enum { PICKUPS = 6 };
extern const struct pickup {
    uint8_t ticks;
    float log_prior;
} PICKUP[PICKUPS];
/* How far into a strain heard before a guess must be for the next note, in ticks; 0 where it follows none. */
int32_t replay_step(const struct us_follower *f, const struct us_follower_guess *g);
/* Looks for earlier places where the newest notes were heard before. */
void echo_find(struct us_follower *f);

/* The natural logarithm of a positive number to about 0.0001: the C library's is too slow here. */
static inline float quick_log(float x)
{
    uint32_t bits;
    memcpy(&bits, &x, sizeof bits);
    int32_t exponent = (int32_t)(bits >> 23) - 127;
    bits = (bits & 0x7FFFFF) | 0x3F800000;
    float m;
    memcpy(&m, &bits, sizeof m);
    float y = (m - 1) / (m + 1), y2 = y * y;
    return (float)exponent * 0.69314718F + 2 * y * (1 + y2 * (0.33333333F + y2 * (0.2F + y2 * 0.16F)));
}

/* The remainder that is never negative. */
static inline int32_t wrap(int32_t a, int32_t m)
{
    int32_t r = a % m;
    return r < 0 ? r + m : r;
}

static inline const struct us_follower_guess *best_guess(const struct us_follower *f)
{
    return &f->guesses[f->side][f->best];
}

static inline struct us_follower_note *newest_note(struct us_follower *f)
{
    return &f->notes[(f->note_count - 1) % US_FOLLOWER_NOTES];
}

/* The logarithm of the tempo to look around: the one that was given, counted in or played before, else a
   usual one. */
float clock_tempo_centre(const struct us_follower *f);
/* Tempo and phase of a guess after a note that was read so. */
void clock_update(const struct us_follower *f, struct us_follower_guess *g, const struct candidate *c,
                  double at_s);
/* The first note of a run: every metre and pickup that may be meant. */
void beam_begin(struct us_follower *f);
/* The newest note, the second or a later one of its run: every guess is carried on. */
void beam_advance(struct us_follower *f, bool after_end);
/* When to declare a beat without an onset, from the state now. */
void felt_schedule(struct us_follower *f);
/* A beat was tapped: guesses that have none there lose weight. */
void beam_tap(struct us_follower *f, double at_s);
/* The weight of the guesses for which a bar line (or a beat) is `ahead` ticks after the last onset. */
float beam_belief(const struct us_follower *f, int32_t ahead, bool bar);

#endif
