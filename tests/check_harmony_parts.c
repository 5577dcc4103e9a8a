/* The live harmony's quick loops against plain ones, written here as they are meant. */
#include "../src/core/harmony_internal.h"
#include "../src/core/harmony_memory.h"
#include "../src/core/harmony_phrase.h"
#include "../src/core/harmony_rate.h"
#include "../src/core/harmony_rows_four.h"
#include "../src/core/harmony_units.h"
#include "support.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

static unsigned state = 1;

static unsigned chance(unsigned below)
{
    state = state * 1664525u + 1013904223u;
    return (unsigned)(((uint64_t)state * below) >> 32);
}

enum { ROWS_MOST = US_NET_IN };
static uint8_t weights[ROWS_MOST * US_NET_HIDDEN];
static float inputs[ROWS_MOST];

static void make_rows(void)
{
    for (size_t i = 0; i < sizeof weights; i++)
        weights[i] = (uint8_t)(US_NET_ZERO - US_NET_REACH + (int)chance(2 * US_NET_REACH + 1));
    for (int i = 0; i < ROWS_MOST; i++)
        inputs[i] = chance(3) ? (float)chance(100000) / 7919.0f : 0;
}

static void plainly(int rows, int row, int outs, float *sum)
{
    for (int i = 0; i < rows; i++)
        for (int k = 0; k < outs; k++) {
            float product = inputs[i] * (float)((int)weights[i * row + k] - US_NET_ZERO);
            sum[k] += product;
        }
}

/* The same to the last bit, whatever vectors the processor has; also where the rows do not fill them. */
START_TEST(rows_are_summed_as_plainly)
{
    static const int ROWS[] = {0, 1, 7, 8, 13, US_NET_HIDDEN, US_NET_IN};
    for (size_t r = 0; r < sizeof ROWS / sizeof *ROWS; r++) {
        float quick[US_NET_HIDDEN], plain[US_NET_HIDDEN];
        make_rows();
        for (int i = 0; i < US_NET_HIDDEN; i++)
            quick[i] = plain[i] = (float)chance(1000) / 331.0f;
        us_rows_hidden(inputs, ROWS[r], weights, quick);
        plainly(ROWS[r], US_NET_HIDDEN, US_NET_HIDDEN, plain);
        ck_assert_mem_eq(quick, plain, sizeof plain);
        four_hidden(inputs, ROWS[r], weights, quick);
        plainly(ROWS[r], US_NET_HIDDEN, US_NET_HIDDEN, plain);
        ck_assert_mem_eq(quick, plain, sizeof plain);
        us_rows_out(inputs, ROWS[r], weights, quick);
        plainly(ROWS[r], US_NET_OUT, US_NET_OUT, plain);
        ck_assert_mem_eq(quick, plain, sizeof plain);
        us_rows_roles(inputs, ROWS[r], weights, quick);
        plainly(ROWS[r], US_NET_OUT, US_ROWS_ROLES, plain);
        ck_assert_mem_eq(quick, plain, sizeof plain);
        four_roles(inputs, ROWS[r], weights, quick);
        plainly(ROWS[r], US_NET_OUT, US_ROWS_ROLES, plain);
        ck_assert_mem_eq(quick, plain, sizeof plain);
    }
}
END_TEST

/* The memory of strains by its rule: the score of a beat goes on from that of the beat before it. */
enum { BEATS = 3000, KEPT = US_MEMORY_BEATS, NOBODY_KNOWS = 99 };
static unsigned lead[BEATS], tail[BEATS];
static float score[BEATS], next[BEATS], liked[BEATS];

static void score_all(int now, bool goes_on)
{
    int oldest = now >= KEPT ? now - KEPT + 1 : 0;
    for (int i = oldest + 1; i < now; i++) {
        float carried = 0.9f * score[i - 1] + (goes_on && tail[i - 1] == tail[now - 1] ? 0.4f : 0);
        next[i] = lead[i] == lead[now] ? carried + 0.6f : 0.5f * carried;
    }
    memcpy(score + oldest + 1, next + oldest + 1,
           (size_t)(now > oldest ? now - oldest - 1 : 0) * sizeof *next);
    score[now] = 0;
}

static int best_of(int now)
{
    int oldest = now >= KEPT ? now - KEPT + 1 : 0, best = -1;
    for (int i = now - 6; i >= oldest; i--)
        if (best < 0 || score[i] + liked[i] > score[best] + liked[best]) best = i;
    return best >= 0 && score[best] + liked[best] >= 5 ? best : -1;
}

/* Each beat is told its own role, so that a recalled one names the beat it comes from. */
static void tell(struct us_strain_memory *m, int now, int beat, bool settled)
{
    float role[3] = {(float)beat, 0, 0};
    us_memory_judge(m, (uint32_t)(now - beat), role, settled);
    liked[beat] = settled ? 0.5f : 0;
}

START_TEST(strains_are_recalled_as_by_the_rule)
{
    struct us_strain_memory *m = calloc(1, sizeof *m);
    int run = 0, recalled = 0;
    for (int now = 0; now < BEATS; now++) {
        lead[now] = now >= 32 && chance(8) ? lead[now - 32] : chance(4);
        tail[now] = now >= 32 && chance(8) ? tail[now - 32] % NOBODY_KNOWS : chance(3);
        if (now && chance(400) == 0) {
            tail[now - 1] = NOBODY_KNOWS; /* how it would have gone on */
            us_memory_fresh(m);
            memset(score, 0, sizeof score);
            run = now;
        }
        us_memory_beat(m, lead[now], now ? tail[now - 1] : 0);
        score_all(now, now > run);
        float role[3];
        bool any = us_memory_recall(m, role) > 0;
        int best = best_of(now);
        ck_assert_int_eq(any, best >= 0);
        if (any) ck_assert_int_eq((int)role[0], best);
        recalled += any;
        tell(m, now, now, false);
        if (now > 40) tell(m, now, now - 37, true);
    }
    ck_assert_int_gt(recalled, BEATS / 4);
    free(m);
}
END_TEST

/* A triad is welcome under its own notes, less so under others, and least where it stands in for a chord that
   holds the note while it rubs against it itself. */
START_TEST(triads_are_welcome_under_their_notes)
{
    const struct us_key major = {7, US_MODE_MAJOR}, minor = {4, US_MODE_MINOR};
    static const struct {
        bool minor;
        enum us_role role;
        int step; /* semitones above the tonic */
        double own, welcome;
    } ROWS[] = {
        {false, US_ROLE_I, 4, 0, 1},         {false, US_ROLE_V, 2, 0, 1},
        {false, US_ROLE_IV, 2, 0, US_CLASH}, /* ii: a sixth is added, nothing rubs */
        {false, US_ROLE_I, 9, 0, US_CLASH},  {true, US_ROLE_I, 8, 1, US_CLASH},
        {true, US_ROLE_I, 8, 0, US_RUB},   /* VI: the sixth step against the fifth in i */
        {false, US_ROLE_I, 11, 0, US_RUB}, /* iii: the leading note against the tonic */
    };
    for (size_t i = 0; i < sizeof ROWS / sizeof *ROWS; i++) {
        double welcome =
            us_harmony_welcome(ROWS[i].minor ? minor : major, ROWS[i].role, ROWS[i].step, ROWS[i].own);
        ck_assert_msg(fabs(welcome - ROWS[i].welcome) < 1e-12, "row %zu: %g", i, welcome);
    }
}
END_TEST

/* What the networks say of single chords tells which one a role is meant for. */
START_TEST(roles_are_meant_for_chords)
{
    const struct us_key minor = {4, US_MODE_MINOR};
    float said[US_HARMONY_CLASSES] = {0};
    int other, six = us_class_of((struct us_chord){0, US_CHORD_MAJ}, minor);
    for (int i = 0; i < US_HARMONY_CLASSES; i++)
        said[i] = -20;
    said[six] = 3;
    ck_assert_double_lt(us_harmony_own_share(said, minor, US_ROLE_I, &other), 0.01);
    ck_assert_int_eq(other, six);
    said[us_class_of(us_chord_primary(minor, US_ROLE_I), minor)] = 3;
    ck_assert_double_eq_tol(us_harmony_own_share(said, minor, US_ROLE_I, &other), 0.5, 0.01);
}
END_TEST

/* A change inside the unit at which chords change costs something, the less the more hymn-like the tune, and
   in no tune nothing at all but in a hymn. */
START_TEST(changes_cost_by_their_rate)
{
    struct us_position bar = {.metre = {4, 4}, .on_bar = true, .on_beat = true}, half = bar, beat = bar;
    const float by_bar[US_RATES] = {1, 0, 0}, by_beat[US_RATES] = {0, 0, 1};
    half.bar_quarters = 2, beat.bar_quarters = 3;
    half.on_bar = beat.on_bar = false;
    ck_assert_double_eq(us_rate_cost(by_bar, &bar, 0), 0);
    ck_assert_double_gt(us_rate_cost(by_bar, &half, 0), 0);
    ck_assert_double_gt(us_rate_cost(by_bar, &beat, 0), us_rate_cost(by_bar, &half, 0));
    ck_assert_double_gt(us_rate_cost(by_bar, &beat, 0.5f), 0);
    ck_assert_double_lt(us_rate_cost(by_bar, &beat, 0.5f), us_rate_cost(by_bar, &beat, 0));
    ck_assert_double_eq(us_rate_cost(by_bar, &beat, 1), 0);
    ck_assert_double_eq(us_rate_cost(by_beat, &beat, 0), 0);
}
END_TEST

/* Two beats of a half bar that disagree: together they say what both can bear, so far as it is likely that no
   chord changes there. */
START_TEST(beats_of_a_unit_speak_together)
{
    struct us_beat_view views[4];
    struct us_chord given[4];
    const double P[12] = {0.9, 0.06, 0.04, 0.1, 0.02, 0.88, 0, 0, 1, 0, 0.1, 0.9};
    double p[12];
    for (int t = 0; t < 4; t++) {
        views[t] = (struct us_beat_view){.position = {.metre = {4, 4}, .bar_quarters = t, .on_bar = t == 0}};
        given[t].root = US_NO_CHORD;
    }
    memcpy(p, P, sizeof p);
    us_units_speak(views, given, 4, 0, p, 3);
    ck_assert_mem_eq(p, P, sizeof p);
    us_units_speak(views, given, 4, 1, p, 3);
    for (int t = 0; t < 4; t += 2)
        for (int i = 0; i < 3; i++)
            ck_assert_double_eq_tol(p[t * 3 + i], p[t * 3 + 3 + i], 1e-9);
    ck_assert_double_eq_tol(p[0], 0.71, 0.02); /* of 0.9 * 0.1, 0.06 * 0.02 and 0.04 * 0.88 */
    ck_assert_double_gt(p[6 + 2], 0.99);
    ck_assert_double_eq(p[6], 0); /* ruled out for all */
    memcpy(p, P, sizeof p);
    given[1] = (struct us_chord){7, US_CHORD_MAJ};
    us_units_speak(views, given, 4, 1, p, 3);
    ck_assert_mem_eq(p, P, 6 * sizeof *p);
    ck_assert_mem_ne(&p[6], &P[6], 6 * sizeof *p);
}
END_TEST

/* The beats on which phrases end, of notes of these lengths in bars of 3/4. */
static size_t ends_of(const double *lengths, size_t count, size_t *ends)
{
    static struct us_note notes[64];
    static struct us_beat_view views[128];
    static uint32_t codes[128];
    double at = 0;
    for (size_t i = 0; i < count; at += lengths[i++])
        notes[i] = (struct us_note){at, lengths[i], 60 + (int16_t)(i % 5), 80};
    struct us_tune tune = {.notes = notes, .note_count = count, .metre = {3, 4}};
    struct us_grid grid = {.beat = 1, .bar = 3, .count = (size_t)at, .end = at};
    for (size_t t = 0; t < grid.count; t++)
        codes[t] = (uint32_t)t;
    us_phrases_find(&tune, &grid, codes, views);
    size_t found = 0;
    for (size_t t = 0; t < grid.count; t++)
        if (views[t].phrase_end) ends[found++] = t;
    return found;
}

/* A long note in every bar, as in many a dance, closes no phrase each time (common practice, no source). */
START_TEST(phrases_are_two_bars_or_more)
{
    static const double EACH_BAR[] = {.25, .25, 2.5, .25, .25, 2.5, .25, .25, 2.5, .25, .25, 2.5,
                                      .25, .25, 2.5, .25, .25, 2.5, .25, .25, 2.5, .25, .25, 2.5};
    static const double FOUR[] = {1, 1, 1, 1, 1, 1, 1, 1, 1, 3, 1, 1, 1, 1, 1, 1, 1, 1, 1, 3};
    size_t ends[128];
    size_t found = ends_of(EACH_BAR, sizeof EACH_BAR / sizeof *EACH_BAR, ends);
    ck_assert_uint_ge(found, 2);
    for (size_t i = 1; i < found; i++)
        ck_assert_uint_ge(ends[i] - ends[i - 1], 5);
    found = ends_of(FOUR, sizeof FOUR / sizeof *FOUR, ends);
    ck_assert_uint_eq(found, 2);
    ck_assert_uint_eq(ends[0], 9);
    ck_assert_uint_eq(ends[1], 21);
}
END_TEST

int main(void)
{
    const TTest *tests[] = {rows_are_summed_as_plainly,           strains_are_recalled_as_by_the_rule,
                            triads_are_welcome_under_their_notes, roles_are_meant_for_chords,
                            changes_cost_by_their_rate,           beats_of_a_unit_speak_together,
                            phrases_are_two_bars_or_more};
    return RUN_TESTS("harmony_parts", tests);
}
