/* One note through all places and transpositions of a tune: where the player may be now. */
#include "score_step.h"

#include <math.h>
#include <string.h>

/* Probabilities of what a player does between one note and the next; common practice, no source: set by hand,
   checked on played-in mistakes by tests/check_score.c. */
static const float GO_ON = 0.90f, STAY = 0.03f, SKIP_ONE = 0.03f, SKIP_TWO = 0.01f;
/* To an entry: the start of a bar or phrase. */
static const float RESTART = 0.02f, RESTART_AFTER_PAUSE = 0.08f, PAUSED = 0.4f;
static const float TO_THE_START = 0.25f, TO_JUST_BEFORE = 0.35f, ANYWHERE = 0.0002f;
/* In a loop: from its end to its start rather than on, and to its start from anywhere. */
static const float LOOP_BACK = 0.9f, LOOP_RESTART = 0.02f;
/* How likely a key that is struck is the right one, a neighbour, or any other. */
static const float RIGHT = 0.93f, NEIGHBOUR = 0.02f, WRONG = 0.003f;
/* A note that is not written: an ornament when it comes at once after or before another, else a slip. */
static const float ADDED = 0.02f, ADDED_AT_ONCE = 0.45f, ANY_PITCH = 0.06f;
static const int64_t AT_ONCE_NS = 100000000;
enum { JUST_BEFORE = 3, KEYS = US_PITCH_CLASSES, ROWS = 4 };

/* Four transpositions at a place. */
typedef float four __attribute__((vector_size(16)));

/* What a note says. */
struct step {
    uint8_t apart[US_SCORE_NOTES_MAX]; /* semitones up from each place to the note, round the octave */
    float fit[US_SCORE_NOTES_MAX];     /* how well the time since the last note fits the written gap */
    float fresh[US_SCORE_NOTES_MAX];   /* how probably the player starts again there, or has got there */
    float added;
    float struck[2 * KEYS]; /* by distance in semitones, round the octave; twice, so that a place is where its
                               transpositions begin */
    float played[2 * KEYS]; /* the same, times how probable it is that the note is one of the tune */
    float again[KEYS];      /* what may start again in each transposition */
};

/* 1 for a perfect fit, never below a third, since beginners wait. */
static void weigh_gaps(const struct us_score_follower *f, float log_gap, float *fit)
{
    const struct us_score *s = f->score;
    for (int i = 0; i < s->count; i++) {
        float off = log_gap - s->log_gap[i];
        fit[i] = 0.33f + 0.67f / (1 + 6 * off * off);
    }
}

/* Whoever goes back does so to a bar line just before, to the start, or to any other entry; most of all after
   a pause. */
static void weigh_entries(const struct us_score_follower *f, bool paused, float *fresh)
{
    const struct us_score *s = f->score;
    float restart = paused ? RESTART_AFTER_PAUSE : RESTART, each;
    int entries = 1, just_before[JUST_BEFORE], found = 0;
    for (int i = 0; i < s->count; i++)
        entries += s->entry[i];
    each = restart * (1 - TO_THE_START - TO_JUST_BEFORE) / (float)entries;
    for (int i = 0; i < s->count; i++)
        fresh[i] = s->entry[i] ? each : ANYWHERE / (float)s->count;
    fresh[0] += restart * TO_THE_START;
    if (f->loop_last) fresh[f->loop_first] += LOOP_RESTART;
    for (int i = f->place; i >= 0 && found < JUST_BEFORE; i--)
        if (s->entry[i]) just_before[found++] = i;
    for (int i = 0; i < found; i++)
        fresh[just_before[i]] += restart * TO_JUST_BEFORE / (float)found;
}

static void prepare(const struct us_score_follower *f, int64_t at_ns, int pitch, struct step *step)
{
    const struct us_score *s = f->score;
    double gap = (double)(at_ns - f->last_ns);
    bool known = f->log_quarter_ns > 0 && gap > 1e6;
    float log_gap = known ? (float)log(gap) - f->log_quarter_ns : 0;
    for (int i = 0; i < s->count; i++) {
        step->apart[i] = (uint8_t)us_pitch_class(pitch - s->pitch[i]);
        step->fit[i] = 1;
    }
    if (known) weigh_gaps(f, log_gap, step->fit);
    bool paused = known && f->place + 1 < s->count && log_gap > s->log_gap[f->place + 1] + PAUSED;
    weigh_entries(f, paused, step->fresh);
    step->added = at_ns - f->last_ns < AT_ONCE_NS ? ADDED_AT_ONCE : ADDED;
}

static four load(const float *from)
{
    four v;
    memcpy(&v, from, sizeof v);
    return v;
}

#ifdef __SSE__
#include <xmmintrin.h>

static four greater(four a, four b)
{
    return _mm_max_ps(a, b);
}
#else
typedef int32_t four_bits __attribute__((vector_size(16)));

static four greater(four a, four b)
{
    four_bits of_a = a > b;
    return (four)(((four_bits)a & of_a) | ((four_bits)b & ~of_a));
}
#endif

static void set_struck(const struct us_score_follower *f, struct step *step)
{
    for (int i = 0; i < 2 * KEYS; i++) {
        int d = i % KEYS;
        step->struck[i] = d == 0 ? RIGHT : d <= 2 || d >= 10 ? NEIGHBOUR : WRONG;
        step->played[i] = (1 - step->added) * f->scale * step->struck[i];
    }
}

/* What comes to a place besides, from the other keys to the start and from a loop's end (`end` is what was
   there) to its start rather than on. */
static four come_round(const struct us_score_follower *f, const struct step *step, int group, int place,
                       four end, four next)
{
    int at = KEYS - step->apart[place] + group * SCORE_LANES;
    four back = LOOP_BACK * end * (1 - step->added) * f->scale;
    if (place == f->loop_first) {
        next += load(step->played + at) * (f->new_key_at_start / KEYS / f->scale);
        if (f->loop_last) next += back * load(step->struck + at);
    } else {
        next -= back * GO_ON * step->fit[place] * load(step->struck + at);
    }
    return next;
}

/* Four transpositions go one note on. */
static void advance(struct us_score_follower *f, const struct step *step, int group)
{
    float(*place)[SCORE_LANES] = f->weight[group] + SCORE_FRONT;
    const float *played = step->played + KEYS + group * SCORE_LANES;
    const four again = load(step->again + group * SCORE_LANES), end = load(place[f->loop_last]);
    const float added = step->added * ANY_PITCH * f->scale;
    const int count = f->score->count, first = f->loop_first, after = f->loop_last ? f->loop_last + 1 : first;
    four one = {0}, two = {0}, three = {0}, most = {0}, sum[ROWS] = {{0}};
    for (int from = 0; from < count; from += ROWS) {
        for (int k = 0; k < ROWS && from + k < count; k++) {
            int i = from + k;
            four here = load(place[i]);
            four come = step->fit[i] * (GO_ON * one + SKIP_ONE * two + SKIP_TWO * three) + STAY * here;
            four next = load(played - step->apart[i]) * (come + again * step->fresh[i]) + added * here;
            if (i == first || i == after) next = come_round(f, step, group, i, end, next);
            three = two, two = one, one = here;
            memcpy(place[i], &next, sizeof next);
            sum[k] += next;
            most = greater(most, next);
        }
    }
    sum[0] = sum[0] + sum[1] + sum[2] + sum[3];
    memcpy(f->mass + group * SCORE_LANES, &sum[0], sizeof sum[0]);
    memcpy(f->most + group * SCORE_LANES, &most, sizeof most);
}

float score_hear(struct us_score_follower *f, int64_t at_ns, int pitch)
{
    struct step step;
    float foretold = 1e-6f;
    prepare(f, at_ns, pitch, &step);
    set_struck(f, &step);
    for (int t = 0; t < KEYS; t++)
        step.again[t] = (f->mass[t] * (1 - f->new_key) + f->new_key / KEYS) / f->scale;
    for (int g = 0; g < SCORE_GROUPS; g++)
        advance(f, &step, g);
    for (int t = 0; t < KEYS; t++)
        foretold += f->mass[t];
    return foretold;
}
