#include "harmony_rate.h"

#include <math.h>
#include <string.h>

#include "harmony_frame.h"
#include "harmony_internal.h"

enum { ROLES = US_HARMONY_ROLES };
enum { BAR, HALF, BEAT };
static const double NEAR = 1e-3;
/* So many units with the usual value stand for what has not been heard yet. */
static const float PRIOR_UNITS = 1;

void us_rate_start(struct us_rate_clues *c)
{
    memset(c, 0, sizeof *c);
}

void us_rate_forget(struct us_rate_clues *c)
{
    float *by_unit[] = {c->fit, c->cover, c->held, c->units, c->moved, c->places};
    float *single[] = {&c->beats, &c->sounded, &c->onsets, &c->inside, &c->leaps, &c->stays};
    for (size_t i = 0; i < sizeof by_unit / sizeof *by_unit; i++)
        us_halve(by_unit[i], US_RATES);
    for (size_t i = 0; i < sizeof single / sizeof *single; i++)
        us_halve(single[i], 1);
}

static float most(const float x[ROLES])
{
    return fmaxf(x[0], fmaxf(x[1], x[2]));
}

/* What is known of a bar, a half bar or a beat goes into the sums. */
static void close_unit(struct us_rate_clues *c, int unit)
{
    struct us_rate_unit *u = &c->unit[unit];
    c->fit[unit] += most(u->role);
    c->cover[unit] += most(u->sounds);
    c->units[unit]++;
    c->held[unit] += u->lacks != 7;
    memset(u, 0, sizeof *u);
}

/* Where a position stands: a bar line, the half of a bar, or another beat. */
static int place_of(const struct us_position *position)
{
    if (position->on_bar) return BAR;
    double half = us_metre_half_quarters(position->metre);
    return fabs(position->bar_quarters - half) < NEAR ? HALF : BEAT;
}

static void count_motion(struct us_rate_clues *c, const float *frame)
{
    float rise = fabsf(frame[US_FRAME_RISE]) * 12;
    c->onsets += frame[US_FRAME_ONSET];
    c->leaps += rise > 2.5f;
    c->stays += rise < 0.5f;
}

void us_rate_begin_beat(struct us_rate_clues *c, const struct us_position *position, const float *frame,
                        const double role[US_ROLES])
{
    int place = place_of(position);
    for (int unit = BEAT; unit >= place && c->beats > 0; unit--)
        close_unit(c, unit);
    if (c->beats > 0) {
        float same = 0;
        for (int r = 0; r < ROLES; r++)
            same += c->role[r] * (float)role[US_ROLE_I + r];
        c->moved[place] += 1 - same;
        c->places[place]++;
    }
    for (int r = 0; r < ROLES; r++) {
        c->role[r] = (float)role[US_ROLE_I + r];
        for (int unit = BAR; unit <= BEAT; unit++)
            c->unit[unit].role[r] += c->role[r];
    }
    count_motion(c, frame);
    c->start = (int8_t)us_frame_step(frame, US_FRAME_START);
    c->beats++;
}

void us_rate_end_beat(struct us_rate_clues *c, struct us_key key, const float *body)
{
    if (!(c->beats > 0)) return;
    int mid = us_frame_step(body, US_FRAME_MID), late = us_frame_step(body, US_FRAME_LATE);
    c->inside += (float)((mid != c->start) + (late != mid));
    us_pcset tones[ROLES];
    float sounds[ROLES] = {0};
    for (int r = 0; r < ROLES; r++)
        tones[r] = us_harmony_tones_above(key, (enum us_role)(US_ROLE_I + r));
    for (int i = 0; i < US_PITCH_CLASSES; i++) {
        float share = body[US_FRAME_SHARE + i];
        for (int r = 0; r < ROLES && share > 0; r++)
            if (us_pcset_has(tones[r], i)) sounds[r] += share;
        c->sounded += share;
    }
    for (int r = 0; r < ROLES; r++) {
        bool lacks = c->start >= 0 && !us_pcset_has(tones[r], c->start);
        for (int unit = BAR; unit <= BEAT; unit++) {
            c->unit[unit].sounds[r] += sounds[r];
            if (lacks) c->unit[unit].lacks |= (uint8_t)(1 << r);
        }
    }
}

/* `sum` over `count`, with the usual value where little is known; what is in open units counts with them. */
static float share(float sum, float count, float usual, float prior)
{
    return (sum + prior * usual) / (count + prior);
}

static void unit_numbers(const struct us_rate_clues *c, float *x)
{
    static const float FIT[3] = {0.72f, 0.8f, 0.88f}, COVER[3] = {0.74f, 0.81f, 0.88f},
                       HELD[2] = {0.5f, 0.75f}, MOVED[3] = {0.55f, 0.32f, 0.15f};
    for (int i = 0; i < 3; i++) {
        x[i] = 5 * share(c->fit[i] + most(c->unit[i].role), c->beats, FIT[i], 4 * PRIOR_UNITS);
        x[3 + i] = 5 * share(c->moved[i], c->places[i], MOVED[i], PRIOR_UNITS);
        x[6 + i] = 5 * share(c->cover[i] + most(c->unit[i].sounds), c->sounded, COVER[i], 4 * PRIOR_UNITS);
    }
    for (int i = 0; i < 2; i++)
        x[9 + i] = 2 * share(c->held[i], c->units[i], HELD[i], PRIOR_UNITS);
}

void us_rate_numbers(const struct us_rate_clues *c, struct us_metre metre, struct us_key key, float style,
                     float x[US_RATE_CLUES])
{
    int beats = us_metre_beats(metre);
    memset(x, 0, US_RATE_CLUES * sizeof *x);
    unit_numbers(c, x);
    x[11] = 2 * share(c->onsets, c->beats, 0.85f, 4 * PRIOR_UNITS);
    x[12] = share(c->inside, c->beats, 0.9f, 4 * PRIOR_UNITS);
    x[13] = 3 * share(c->leaps, c->beats, 0.3f, 4 * PRIOR_UNITS);
    x[14] = 3 * share(c->stays, c->beats, 0.25f, 4 * PRIOR_UNITS);
    x[15] = style;
    x[16] = beats == 2;
    x[17] = beats == 3;
    x[18] = beats == 4;
    x[19] = fabs(us_metre_beat_quarters(metre) - 1.5) < NEAR;
    x[20] = us_mode_has_minor_third((enum us_mode)key.mode);
    x[21] = 0.3f * logf(1 + share(c->beats, (float)(beats > 0 ? beats : 4), 0, 0) / 8);
    x[22] = 1;
}

bool us_rate_fits(enum us_change rate, struct us_metre metre)
{
    int beats = us_metre_beats(metre);
    if (rate == US_CHANGE_HALF) return beats % 2 == 0;
    return rate == US_CHANGE_BAR || (beats > 2 && rate == US_CHANGE_BEAT);
}

void us_rate_judge(const float weights[US_RATES][US_RATE_CLUES], const float x[US_RATE_CLUES],
                   struct us_metre metre, float rate[US_RATES])
{
    float sum = 0;
    for (int r = 0; r < US_RATES; r++) {
        float says = 0;
        for (int i = 0; i < US_RATE_CLUES; i++)
            says += weights[r][i] * x[i];
        sum += rate[r] =
            us_rate_fits((enum us_change)(US_CHANGE_BAR + r), metre) ? expf(us_bounded(says)) : 0;
    }
    for (int r = 0; r < US_RATES; r++)
        rate[r] = sum > 0 ? rate[r] / sum : r == 0;
}

/* By rate (bar, half) and by where the beat stands; the more a tune is like a hymn the less. */
static double expected(const double by_rate[2][US_RATES], const float rate[US_RATES],
                       const struct us_position *position, float style)
{
    if (position->metre.top == 0) return 0;
    int place = place_of(position);
    double sum = (double)rate[BAR] * by_rate[BAR][place] + (double)rate[HALF] * by_rate[HALF][place];
    return (double)(1 - style) * sum;
}

/* Chosen on tunes that the tables had not seen: as few needless changes as cost nothing in right beats. */
double us_rate_cost(const float rate[US_RATES], const struct us_position *position, float style)
{
    static const double BEATS[2][US_RATES] = {{0, 0.3, 0.6}, {0, 0, 0.4}};
    return expected(BEATS, rate, position, style);
}

double us_rate_stay(const float rate[US_RATES], const struct us_position *position, float style)
{
    static const double LOG[2][US_RATES] = {{0.2, 0.7, 1}, {0.2, 0.4, 0.7}};
    return expected(LOG, rate, position, style);
}
