#include "support.h"

#include "round_tunes.h"
#include "undersong/round.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

static const int8_t ECHO[][2] = {
    {60, 1}, {65, 1}, {62, 1}, {69, 1}, {60, 1}, {65, 1}, {62, 1}, {69, 1},
    {60, 1}, {65, 1}, {62, 1}, {69, 1}, {60, 1}, {65, 1}, {62, 1}, {69, 1},
};
/* Bars that differ in their last note only, and there by a third. */
static const int8_t NEARLY_ECHO[][2] = {
    {60, 1}, {64, 1}, {67, 1}, {64, 1}, {60, 1}, {64, 1}, {67, 1}, {60, 1},
    {60, 1}, {64, 1}, {67, 1}, {64, 1}, {60, 1}, {64, 1}, {67, 1}, {60, 1},
};
#define TUNE(t) t, sizeof t / sizeof *t

static size_t lay(const int8_t (*tune)[2], size_t count, struct us_round_note *out)
{
    double at = 0;
    for (size_t i = 0; i < count; i++) {
        out[i] = (struct us_round_note){.at = at, .len = tune[i][1] * 0.95, .pitch = (uint8_t)tune[i][0]};
        at += tune[i][1];
    }
    return count;
}

START_TEST(round_finds_the_entry)
{
    struct us_round_note notes[64];
    double fit;
    size_t count = lay(TUNE(CIRCLE), notes);
    ck_assert_int_eq(us_round_entry(notes, count, 4, &fit), 2);
    ck_assert(fit >= 0.85 && fit <= 1);
    ck_assert(us_round_fit(notes, count, 4, 1, NULL) < us_round_fit(notes, count, 4, 2, NULL));
    for (size_t i = 0; i < count; i++)
        notes[i].pitch = (uint8_t)(notes[i].pitch + 5); /* in every key the same */
    ck_assert_int_eq(us_round_entry(notes, count, 4, NULL), 2);
}
END_TEST

/* Phrases of two bars over I and V: four bars later there are no fourths, but two are good enough. */
START_TEST(round_enters_early)
{
    static const int8_t EARLY[][2] = {{64, 2}, {60, 2}, {62, 2}, {59, 2}, {67, 2}, {64, 2}, {67, 2}, {62, 2},
                                      {72, 2}, {72, 2}, {71, 2}, {71, 2}, {76, 2}, {79, 2}, {74, 2}, {74, 2}};
    struct us_round_note notes[64];
    size_t count = lay(TUNE(EARLY), notes);
    double two = us_round_fit(notes, count, 4, 2, NULL), four = us_round_fit(notes, count, 4, 4, NULL);
    ck_assert_msg(two < four, "%g after two bars, %g after four", two, four);
    ck_assert_int_eq(us_round_entry(notes, count, 4, NULL), 2);
}
END_TEST

START_TEST(round_says_when_nothing_fits)
{
    struct us_round_note notes[64];
    double fit = 1;
    ck_assert_int_eq(us_round_entry(notes, lay(TUNE(STRANGERS), notes), 4, &fit), 0);
    ck_assert(fit == 0);
    /* The same bar over and over goes with itself in unison only: that is no round. */
    ck_assert_int_eq(us_round_entry(notes, lay(TUNE(ECHO), notes), 4, NULL), 0);
    double unison;
    us_round_fit(notes, 16, 4, 1, &unison);
    ck_assert(unison > 0.99);
    ck_assert_int_eq(us_round_entry(notes, lay(TUNE(NEARLY_ECHO), notes), 4, NULL), 0);
    ck_assert_double_eq_tol(us_round_fit(notes, 16, 4, 1, &unison), 1, 1e-9); /* but most is unison */
    ck_assert(unison > 0.7 && unison < 0.99);
    ck_assert_int_eq(us_round_entry(notes, 0, 4, NULL), 0);
    ck_assert_int_eq(us_round_entry(notes, 4, 4, NULL), 0);
    ck_assert_int_eq(us_round_entry(notes, 16, 0, NULL), 0);
}
END_TEST

/* Intervals between two held notes, by counterpoint primers (from memory). */
START_TEST(round_consonance)
{
    static const double WANT[13] = {0, 0, 0, 1, 1, 0.5, 0, 1, 1, 1, 0, 0, 0};
    for (int interval = 0; interval <= 12; interval++) {
        struct us_round_note notes[4];
        for (int i = 0; i < 4; i++)
            notes[i] =
                (struct us_round_note){.at = 8 * i, .len = 8, .pitch = (uint8_t)(i % 2 ? 60 + interval : 60)};
        ck_assert_double_eq_tol(us_round_fit(notes, 4, 4, 2, NULL), WANT[interval], 1e-9);
    }
}
END_TEST

enum { ROUND_OUT = 16 };
struct heard {
    double at;
    struct us_round_answer answer;
};
struct listener {
    struct heard list[4096];
    size_t count;
    int down[128];
};

static void listen(struct listener *l, double at, const struct us_round_answer *out, size_t count)
{
    for (size_t i = 0; i < count; i++) {
        l->down[out[i].pitch] += out[i].on ? 1 : -1;
        ck_assert(l->down[out[i].pitch] >= 0);
        ck_assert(l->count < sizeof l->list / sizeof *l->list);
        l->list[l->count++] = (struct heard){at, out[i]};
    }
}

static void advance(struct us_round *r, struct listener *l, double to)
{
    struct us_round_answer out[ROUND_OUT];
    for (double due = us_round_due(r); due <= to; due = us_round_due(r)) {
        size_t count = us_round_advance(r, due, out, ROUND_OUT);
        ck_assert(count > 0);
        listen(l, due, out, count);
    }
    listen(l, to, out, us_round_advance(r, to, out, ROUND_OUT));
}

/* The answer is the tune itself, the same pitches, lengths and order, so many quarters later. */
START_TEST(round_answers_the_tune)
{
    static struct us_round r;
    static struct listener l;
    memset(&l, 0, sizeof l);
    us_round_init(&r);
    us_round_set_delay(&r, 8);
    double at = 0;
    size_t count = sizeof CIRCLE / sizeof *CIRCLE;
    for (size_t i = 0; i < count; i++) {
        advance(&r, &l, at);
        us_round_note_on(&r, at, CIRCLE[i][0], 70 + (int)i);
        advance(&r, &l, at + 0.9 * CIRCLE[i][1]);
        us_round_note_off(&r, at + 0.9 * CIRCLE[i][1], CIRCLE[i][0]);
        at += CIRCLE[i][1];
    }
    advance(&r, &l, at + 8);
    ck_assert_uint_eq(l.count, 2 * count);
    at = 8;
    for (size_t i = 0; i < count; i++) {
        ck_assert(l.list[2 * i].answer.on && !l.list[2 * i + 1].answer.on);
        ck_assert_int_eq(l.list[2 * i].answer.pitch, CIRCLE[i][0]);
        ck_assert_int_eq(l.list[2 * i].answer.velocity, 70 + (int)i);
        ck_assert_double_eq_tol(l.list[2 * i].at, at, 1e-9);
        ck_assert_double_eq_tol(l.list[2 * i + 1].at, at + 0.9 * CIRCLE[i][1], 1e-9);
        at += CIRCLE[i][1];
    }
    ck_assert(isinf(us_round_due(&r)));
}
END_TEST

/* Where the player waits, musical time stands still and the answer waits too. */
START_TEST(round_waits_for_the_player)
{
    static struct us_round r;
    struct us_round_answer out[ROUND_OUT];
    us_round_init(&r);
    us_round_set_delay(&r, 4);
    us_round_note_on(&r, 0, 60, 80);
    us_round_note_off(&r, 1, 60);
    for (int i = 0; i < 100; i++)
        ck_assert_uint_eq(us_round_advance(&r, 3.9, out, ROUND_OUT), 0);
    ck_assert_uint_eq(us_round_advance(&r, 3.0, out, ROUND_OUT), 0); /* a correction backwards */
    ck_assert_uint_eq(us_round_advance(&r, 4.0, out, ROUND_OUT), 1);
    ck_assert(out[0].on && out[0].pitch == 60 && out[0].velocity == 80);
    ck_assert_double_eq(us_round_due(&r), 5);
    ck_assert_uint_eq(us_round_clear(&r, out, ROUND_OUT), 1);
    ck_assert(!out[0].on && isinf(us_round_due(&r)));
    ck_assert_uint_eq(us_round_advance(&r, 99, out, ROUND_OUT), 0);
}
END_TEST

/* The player stumbles, goes back two quarters and plays them again: the answer has each note once. */
START_TEST(round_takes_back_a_stumble)
{
    static struct us_round r;
    static struct listener l;
    static const struct {
        double at;
        int pitch;
    } PLAYED[] = {{0, 60}, {1, 62}, {2, 64}, {3, 66}, {2, 64}, {3, 65}, {2.8, 67}, {4, 69}};
    static const int ANSWER[] = {60, 62, 64, 65, 67, 69};
    memset(&l, 0, sizeof l);
    us_round_init(&r);
    us_round_set_delay(&r, 8);
    for (size_t i = 0; i < sizeof PLAYED / sizeof *PLAYED; i++) {
        us_round_note_on(&r, PLAYED[i].at, PLAYED[i].pitch, 80);
        us_round_note_off(&r, PLAYED[i].at + 0.5, PLAYED[i].pitch);
    }
    advance(&r, &l, 20);
    size_t n = 0;
    for (size_t i = 0; i < l.count; i++)
        if (l.list[i].answer.on) {
            ck_assert_uint_lt(n, 6);
            ck_assert_int_eq(l.list[i].answer.pitch, ANSWER[n++]);
        }
    ck_assert_uint_eq(n, 6);
}
END_TEST

/* A leap over several bars does not pour out what was missed. */
START_TEST(round_skips_what_is_past)
{
    static struct us_round r;
    struct us_round_answer out[ROUND_OUT];
    us_round_init(&r);
    us_round_set_delay(&r, 4);
    for (int i = 0; i < 8; i++) {
        us_round_note_on(&r, i, 60 + i, 80);
        us_round_note_off(&r, i + 0.9, 60 + i);
    }
    ck_assert_uint_eq(us_round_advance(&r, 10.5, out, ROUND_OUT), 1);
    ck_assert(out[0].on && out[0].pitch == 66);
    /* An entry found late begins in the middle, where the tune is by then. */
    us_round_hush(&r, out, ROUND_OUT);
    us_round_set_delay(&r, 6);
    ck_assert_double_eq(us_round_due(&r), 11);
}
END_TEST

/* Random play, random corrections of the beat, random hushes, many times the capacity: each note that begins
 * ends. */
START_TEST(round_releases_every_note)
{
    static struct us_round r;
    static struct listener l;
    srand(7);
    for (int turn = 0; turn < 60; turn++) {
        struct us_round_answer out[ROUND_OUT];
        memset(&l, 0, sizeof l);
        us_round_init(&r);
        us_round_set_delay(&r, 1 + rand() % 30);
        double at = 0;
        for (int i = 0; i < 1500; i++) {
            at += (rand() % 100 - 5) / 200.0;
            int pitch = 60 + rand() % 12, what = rand() % 100;
            if (what < 60)
                us_round_note_on(&r, at, pitch, 64);
            else if (what < 97)
                us_round_note_off(&r, at, pitch);
            else if (what < 98)
                listen(&l, at, out, us_round_hush(&r, out, ROUND_OUT));
            if (what == 99) {
                listen(&l, at, out, us_round_hush(&r, out, ROUND_OUT));
                us_round_set_delay(&r, 1 + rand() % 30);
            }
            listen(&l, at, out, us_round_advance(&r, at, out, (size_t)(1 + rand() % ROUND_OUT)));
        }
        for (size_t n = ROUND_OUT; n == ROUND_OUT;)
            listen(&l, at, out, n = us_round_clear(&r, out, ROUND_OUT));
        for (int p = 0; p < 128; p++)
            ck_assert_int_eq(l.down[p], 0);
        ck_assert(l.count > 300);
    }
}
END_TEST

int main(void)
{
    const TTest *const TESTS[] = {
        round_finds_the_entry,    round_enters_early,         round_says_when_nothing_fits,
        round_consonance,         round_answers_the_tune,     round_waits_for_the_player,
        round_skips_what_is_past, round_takes_back_a_stumble, round_releases_every_note,
    };
    return RUN_TESTS("round", TESTS);
}
