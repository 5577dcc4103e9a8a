#include "support.h"

#include "undersong/follower_state.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* A tune made up for these tests, 4/4 with one quarter before the first bar line: lengths in eighths, steps
   of the scale from the keynote. */
static const struct {
    uint8_t eighths;
    int8_t step;
} TUNE[] = {{2, 4}, {2, 7}, {1, 7}, {1, 8}, {2, 9}, {2, 7}, {3, 5}, {1, 6}, {2, 7}, {2, 4}, {2, 6},  {1, 6},
            {1, 7}, {2, 8}, {2, 6}, {6, 4}, {2, 4}, {2, 9}, {1, 9}, {1, 8}, {2, 7}, {2, 9}, {3, 10}, {1, 9},
            {2, 8}, {2, 7}, {2, 8}, {1, 7}, {1, 6}, {2, 5}, {2, 6}, {6, 7}, {2, 4}, {2, 7}, {1, 7},  {1, 8},
            {2, 9}, {2, 7}, {3, 5}, {1, 6}, {2, 7}, {2, 4}, {2, 6}, {1, 6}, {1, 7}, {2, 8}, {2, 5},  {6, 7}};
enum { TUNE_NOTES = sizeof TUNE / sizeof *TUNE };

struct played {
    double at_s, held_s;
    int pitch;
    double quarters; /* after the first bar line */
};
struct score {
    struct played notes[4 * TUNE_NOTES];
    size_t count;
};

static struct us_follower follower;
static struct score score;

/* The first `count` notes of the tune from `at_s` on; returns when the next one would be. */
static double write_tune(size_t from, size_t count, double at_s, double quarter_s)
{
    double quarters = -1;
    for (size_t i = 0; i < from; i++)
        quarters += TUNE[i].eighths * 0.5;
    for (size_t i = from; i < from + count; i++) {
        static const int MAJOR[] = {0, 2, 4, 5, 7, 9, 11};
        double length = TUNE[i].eighths * 0.5;
        score.notes[score.count++] =
            (struct played){at_s, 0.85 * length * quarter_s,
                            55 + MAJOR[TUNE[i].step % 7] + 12 * (TUNE[i].step / 7), quarters};
        quarters += length;
        at_s += length * quarter_s;
    }
    return at_s;
}

static int64_t ns(double s)
{
    return (int64_t)llround(s * 1e9);
}

/* What came out: one entry an onset, and all beats declared by time. */
static struct us_felt felt[8 * TUNE_NOTES], timed[64 * TUNE_NOTES];
static size_t timed_count;

static void tick_until(int64_t now_ns)
{
    while (us_follower_due(&follower) <= now_ns) {
        struct us_felt *t = &timed[timed_count];
        ck_assert(us_follower_tick(&follower, now_ns, t));
        ck_assert_int_le(t->at_ns, now_ns);
        if (timed_count) ck_assert_int_ge(t->at_ns, timed[timed_count - 1].at_ns);
        ck_assert_uint_lt(++timed_count, sizeof timed / sizeof *timed);
    }
}

/* Plays the score, with ticks at `slice_s` besides those that are due; 0 for none. */
static void play_score(const struct us_follower_settings *settings, double slice_s)
{
    us_follower_init(&follower, settings);
    timed_count = 0;
    for (size_t i = 0; i < score.count; i++) {
        const struct played *n = &score.notes[i];
        double next_s = i + 1 < score.count ? n[1].at_s : n->at_s + 60;
        tick_until(ns(n->at_s));
        int velocity = n->held_s < 0.1 ? 64 : 80; /* ornaments are played lightly */
        us_follower_onset(&follower, ns(n->at_s), n->pitch, velocity, &felt[i]);
        double off_s = n->at_s + n->held_s;
        for (double t = n->at_s; slice_s > 0 && t < fmin(off_s, next_s); t += slice_s)
            tick_until(ns(t));
        if (off_s < next_s) tick_until(ns(off_s));
        us_follower_note_off(&follower, ns(fmin(off_s, next_s)), n->pitch);
        for (double t = off_s; slice_s > 0 && t < next_s; t += slice_s)
            tick_until(ns(t));
        tick_until(ns(next_s) - 1);
    }
}

static struct us_follower_settings known(uint8_t top, uint8_t bottom, double pickup)
{
    return (struct us_follower_settings){.metre = {top, bottom}, .pickup = pickup};
}

static bool is_line(double quarters, double bar)
{
    return fabs(quarters / bar - round(quarters / bar)) < 1e-6;
}

/* Scales in even notes: after two bars every bar line is felt, and only bar lines, at any tempo in any metre.
 */
START_TEST(steady_scales)
{
    static const struct {
        uint8_t top, bottom;
        double pickup, step; /* quarters */
    } ROWS[] = {{4, 4, 0, 1},   {4, 4, 1, 1},      {3, 4, 0, 0.5}, {3, 4, 1, 1},
                {2, 4, 0, 0.5}, {6, 8, 0.5, 0.5},  {6, 8, 0, 0.5}, {9, 8, 0, 0.5},
                {2, 2, 0, 1},   {12, 8, 0.5, 0.5}, {5, 4, 0, 1},   {3, 2, 0, 1}};
    double tempo = 66 + 10 * (_i % 6);
    size_t row = (size_t)_i / 6;
    struct us_follower_settings settings = known(ROWS[row].top, ROWS[row].bottom, ROWS[row].pickup);
    settings.quarters_a_minute = 1.1 * tempo; /* even notes alone do not tell quarters from eighths */
    score.count = 0;
    for (int k = 0; k < 64; k++) {
        static const int UP_AND_DOWN[] = {60, 62, 64, 65, 67, 69, 71, 72, 71, 69, 67, 65, 64, 62};
        double step_s = ROWS[row].step * 60 / tempo;
        score.notes[score.count++] = (struct played){1 + k * step_s, step_s * 0.85, UP_AND_DOWN[k % 14],
                                                     k * ROWS[row].step - ROWS[row].pickup};
    }
    play_score(&settings, 0);
    double bar = us_metre_bar_quarters(settings.metre);
    for (size_t i = 0; i < score.count; i++)
        if (score.notes[i].quarters >= 2 * bar)
            ck_assert_msg(felt[i].on_bar == is_line(score.notes[i].quarters, bar),
                          "%u/%u at %g: quarter %g felt %g", ROWS[row].top, ROWS[row].bottom, tempo,
                          score.notes[i].quarters, felt[i].bar_quarters);
}
END_TEST
enum { SCALE_CASES = 12 * 6 };

/* From here on, bar lines of `bar` quarters are felt where they are. */
static void expect_bars(size_t from, size_t until, double bar)
{
    for (size_t i = from; i < until; i++)
        ck_assert_msg(felt[i].on_bar == is_line(score.notes[i].quarters, bar),
                      "note %zu, quarter %g felt as %g of %d/%d", i, score.notes[i].quarters,
                      felt[i].bar_quarters, felt[i].metre.top, felt[i].metre.bottom);
}

static const double QUARTERS_S[] = {0.48, 0.56, 0.65, 0.75, 0.9};
enum { TEMPI = 5 };

START_TEST(tune_with_metre_given)
{
    struct us_follower_settings settings = known(4, 4, 1);
    score.count = 0;
    write_tune(0, TUNE_NOTES, 3, QUARTERS_S[_i]);
    play_score(&settings, 0);
    expect_bars(0, TUNE_NOTES, 4);
    ck_assert(felt[0].fresh && felt[0].bar == -1 && felt[1].bar == 0);
    ck_assert_double_eq_tol(felt[TUNE_NOTES - 1].quarter_ns, QUARTERS_S[_i] * 1e9, 0.02e9);
}
END_TEST

/* A tune that has played its quarters long and short goes on so, with a learner's wavering: the short note is
   no early beat. */
START_TEST(uneven_quarters)
{
    static const double LONG[] = {3 / 4.0, 2 / 3.0};
    for (size_t kind = 0; kind < 2; kind++) {
        struct us_follower_settings settings = known(4, 4, 0);
        double length[] = {1, 1, LONG[kind], 1 - LONG[kind], 1}, quarters = 0;
        score.count = 0;
        for (size_t k = 0; k < 60; k++) {
            static const int STEPS[] = {0, 2, 4, 5, 7, 9, 11, 12};
            int pitch = 60 + STEPS[(5 * k * k + 3 * k) % 59 % 8]; /* no strain comes back */
            double quarter_s = QUARTERS_S[_i];
            score.notes[score.count++] =
                (struct played){1 + quarters * quarter_s, 0.85 * length[k % 5] * quarter_s, pitch, quarters};
            quarters += length[k % 5];
        }
        play_score(&settings, 0);
        for (size_t i = 20; i < score.count; i++) /* from bar 5 on */
            ck_assert_msg((felt[i].on_beat || felt[i].on_bar) == is_line(score.notes[i].quarters, 1),
                          "kind %zu, quarter %g felt as %g", kind, score.notes[i].quarters,
                          felt[i].bar_quarters);
    }
}
END_TEST

/* With nothing given a first note is taken for a pickup, with doubt; a rise of a fourth, from step 5 to the
   keynote, says that it was one, a repeated note that it was none.  Common practice, no source; learned from
   tunes. */
START_TEST(pickup_is_recognized)
{
    static const uint8_t REPEATED[] = {67, 67, 71, 71, 74};
    double sure;
    score.count = 0;
    write_tune(0, TUNE_NOTES, 3, QUARTERS_S[_i]);
    score.count = 2;
    play_score(NULL, 0);
    ck_assert(!felt[0].on_bar && felt[0].bar == -1 && felt[0].sure < 0.7);
    ck_assert(felt[1].on_bar && felt[1].bar == 0 && !felt[1].already);
    us_follower_init(&follower, NULL);
    for (int i = 0; i < 5; i++) {
        us_follower_onset(&follower, ns(3 + i * QUARTERS_S[_i]), REPEATED[i], 80, &felt[i]);
        us_follower_note_off(&follower, ns(3 + (i + 0.85) * QUARTERS_S[_i]), REPEATED[i]);
        int line = us_follower_first_line(&follower, &sure);
        if (!i) ck_assert(line == 67 && sure > 0.2 && sure < 0.5);
    }
    ck_assert_double_eq_tol(felt[4].bar_quarters, 0, 1e-6);
    ck_assert_int_eq(us_follower_first_line(&follower, &sure), 67);
}
END_TEST

/* Nothing is said: from the third bar on the bar lines are right. */
START_TEST(tune_with_nothing_given)
{
    score.count = 0;
    write_tune(0, TUNE_NOTES, 3, QUARTERS_S[_i]);
    play_score(NULL, 0);
    expect_bars(16, TUNE_NOTES, 4);
}
END_TEST

/* A stop of two seconds before a note of the second bar: nothing is declared while waiting, except beats
   under the note before, and the next bar line is together again. */
START_TEST(hesitation)
{
    for (size_t stop = 8; stop < 14; stop++) {
        struct us_follower_settings settings = known(4, 4, 1);
        score.count = 0;
        double next_s = write_tune(0, stop, 3, QUARTERS_S[_i]), expected_s = next_s;
        write_tune(stop, TUNE_NOTES - stop, next_s + 2, QUARTERS_S[_i]);
        play_score(&settings, 0);
        expect_bars(0, TUNE_NOTES, 4);
        for (size_t i = 0; i < timed_count; i++)
            ck_assert(timed[i].at_ns < ns(expected_s + 0.1) || timed[i].at_ns >= ns(next_s + 2));
        ck_assert_msg(felt[stop].waiting, "stop before note %zu", stop);
    }
}
END_TEST

/* A note struck twice by mistake does not shift the bar. */
START_TEST(stutter)
{
    for (size_t again = 6; again < 20; again++) {
        struct us_follower_settings settings = known(4, 4, 1);
        score.count = 0;
        double at_s = write_tune(0, again, 3, QUARTERS_S[_i]);
        write_tune(again, 1, at_s, QUARTERS_S[_i]);
        score.notes[score.count - 1].held_s = 0.12;
        write_tune(again, TUNE_NOTES - again, at_s + 0.27, QUARTERS_S[_i]);
        play_score(&settings, 0);
        expect_bars(again + 3, score.count, 4);
    }
}
END_TEST

static void add_note(double at_s, double held_s, int pitch, double quarters)
{
    score.notes[score.count++] = (struct played){at_s, held_s, pitch, quarters};
}

/* The whole tune as written, for a player who adds notes to it; the score is empty. */
static const struct score *plain_tune(double quarter_s)
{
    static struct score plain;
    score.count = 0;
    write_tune(0, TUNE_NOTES, 3, quarter_s);
    plain = score;
    score.count = 0;
    return &plain;
}

/* The tune with a short note before the first of each second bar; returns how many. */
static size_t write_graced(double quarter_s, size_t graces[TUNE_NOTES])
{
    const struct score *plain = plain_tune(quarter_s);
    size_t count = 0;
    for (size_t i = 0; i < plain->count; i++) {
        const struct played *n = &plain->notes[i];
        if (n->quarters > 0 && is_line(n->quarters, 8)) {
            graces[count++] = score.count;
            add_note(n->at_s - 0.085, 0.09, n->pitch + 2, n->quarters);
        }
        add_note(n->at_s, n->held_s, n->pitch, n->quarters);
    }
    return count;
}

/* A grace note before a bar line: the line comes with the note that it leads to. */
START_TEST(grace_notes)
{
    struct us_follower_settings settings = known(4, 4, 1);
    size_t graces[TUNE_NOTES], count = write_graced(QUARTERS_S[_i], graces);
    play_score(&settings, 0);
    ck_assert_uint_gt(count, 3);
    for (size_t i = 2; i < count; i++) { /* at first it may be a note that comes early */
        const struct us_felt *grace = &felt[graces[i]], *note = grace + 1;
        ck_assert_msg(grace->already, "grace note %zu is taken for a beat", i);
        ck_assert_msg(note->on_bar && !note->already, "bar line after grace note %zu", i);
    }
}
END_TEST

/* A trill on each long note: the tempo stays, and so do the bar lines. */
START_TEST(trills)
{
    struct us_follower_settings settings = known(4, 4, 1);
    double quarter_s = QUARTERS_S[_i];
    const struct score *plain = plain_tune(quarter_s);
    for (size_t i = 0; i < plain->count; i++) {
        const struct played *n = &plain->notes[i];
        size_t trilled = n->held_s > 2 * quarter_s ? 11 : 0;
        add_note(n->at_s, trilled ? 0.08 : n->held_s, n->pitch, n->quarters);
        for (size_t k = 1; k <= trilled; k++)
            add_note(n->at_s + 0.082 * (double)k, k < trilled ? 0.08 : n->held_s - 0.95,
                     n->pitch + (k % 2 ? 2 : 0), 0.123);
    }
    play_score(&settings, 0);
    for (size_t i = 24; i < score.count; i++) {
        ck_assert_double_eq_tol(felt[i].quarter_ns * 1e-9, quarter_s, 0.08 * quarter_s);
        if (score.notes[i].quarters == 0.123)
            ck_assert_msg(felt[i].already || !(felt[i].on_bar || felt[i].on_beat),
                          "note %zu of a trill strikes", i);
        else
            ck_assert_int_eq(felt[i].on_bar, is_line(score.notes[i].quarters, 4));
    }
}
END_TEST

/* The player breaks off, waits a little, and goes back to the bar line or to the start: within one bar the
   bar lines are right. */
START_TEST(restart)
{
    static const size_t BACK[] = {0, 1, 6, 10};
    for (size_t b = 0; b < 4; b++) {
        for (size_t stop = BACK[b] + 6; stop < 24; stop++) {
            struct us_follower_settings settings = known(4, 4, 1);
            score.count = 0;
            double at_s = write_tune(0, stop, 3, QUARTERS_S[_i]);
            write_tune(BACK[b], TUNE_NOTES - BACK[b], at_s + 1.3, QUARTERS_S[_i]);
            play_score(&settings, 0);
            double line = ceil((score.notes[stop].quarters + 3.99) / 4) * 4;
            size_t from = stop;
            while (score.notes[from].quarters < line)
                from++;
            expect_bars(from, score.count, 4);
        }
    }
}
END_TEST

/* The player breaks off after the first notes of a bar and begins it again: the next bar line is right. After
   a single note it could as well be a note that is repeated; most times it is right then too. */
START_TEST(bar_again)
{
    int right = 0, tried = 0;
    plain_tune(QUARTERS_S[_i]);
    for (size_t line = 6; line < 40; line++) {
        for (size_t stop = line + 1; stop < line + 4; stop++) {
            struct us_follower_settings settings = known(4, 4, 1);
            score.count = 0;
            double at_s = write_tune(0, stop, 3, QUARTERS_S[_i]);
            if (!is_line(score.notes[line].quarters, 4)) continue;
            write_tune(line, TUNE_NOTES - line, at_s + 0.8, QUARTERS_S[_i]);
            play_score(&settings, 0);
            size_t next = stop + 1;
            while (!is_line(score.notes[next].quarters, 4))
                next++;
            if (stop > line + 1)
                ck_assert_msg(felt[next].on_bar, "stop before note %zu, back to %zu", stop, line);
            right += felt[next].on_bar;
            tried++;
        }
    }
    ck_assert_int_gt(tried, 20);
    ck_assert_int_ge(right, tried - 3);
}
END_TEST

/* Two bars of silence end the run; the next note begins another. */
START_TEST(long_pause)
{
    struct us_follower_settings settings = known(4, 4, 1);
    double bar_s = 4 * QUARTERS_S[_i];
    score.count = 0;
    double at_s = write_tune(0, 16, 3, QUARTERS_S[_i]);
    write_tune(0, TUNE_NOTES, at_s + 2.5 * bar_s, QUARTERS_S[_i]);
    play_score(&settings, 0);
    size_t ends = 0;
    for (size_t i = 0; i < timed_count; i++) {
        ends += timed[i].ended;
        if (timed[i].ended && ends == 1) {
            ck_assert_int_ge(timed[i].at_ns, ns(at_s + 1.5 * bar_s));
            ck_assert_int_le(timed[i].at_ns, ns(at_s + 2.2 * bar_s));
        }
    }
    ck_assert_uint_eq(ends, 2); /* and once after the last note */
    ck_assert(!timed[timed_count - 1].on_bar && timed[timed_count - 1].ended);
    ck_assert(felt[16].fresh);
    ck_assert_int_eq(felt[16].bar, -1);
    expect_bars(17, score.count, 4);
    ck_assert(us_follower_due(&follower) == INT64_MAX);
}
END_TEST

/* Under a held note the inner beats and the bar line come by time. */
START_TEST(held_note)
{
    struct us_follower_settings settings = known(4, 4, 1);
    double quarter_s = QUARTERS_S[_i];
    score.count = 0;
    write_tune(0, 16, 3, quarter_s);
    struct played last = score.notes[15];
    score.notes[15].held_s = 7 * quarter_s;
    play_score(&settings, 0);
    int next = 1;
    for (size_t i = 0; i < timed_count && next < 7; i++) {
        if (timed[i].at_ns <= ns(last.at_s)) continue;
        double beats = (double)(timed[i].at_ns - ns(last.at_s)) * 1e-9 / quarter_s;
        ck_assert_double_eq_tol(beats, next, 0.15);
        ck_assert(timed[i].on_beat && !timed[i].on_onset);
        ck_assert_int_eq(timed[i].on_bar, is_line(last.quarters + next, 4));
        next++;
    }
    ck_assert_int_eq(next, 7); /* all six, a bar line among them */
}
END_TEST

/* A key that bounces is down all the same. */
START_TEST(held_note_that_bounced)
{
    struct us_follower_settings settings = known(4, 4, 1);
    double quarter_s = QUARTERS_S[_i];
    score.count = 0;
    write_tune(0, 16, 3, quarter_s);
    struct played *last = &score.notes[15];
    last[1] = last[0];
    last[0].held_s = 0.01;
    last[1].at_s += 0.02;
    last[1].held_s = 7 * quarter_s;
    score.count++;
    play_score(&settings, 0);
    int beats = 0;
    for (size_t i = 0; i < timed_count; i++) {
        double since = (double)(timed[i].at_ns - ns(last->at_s)) * 1e-9 / quarter_s;
        beats += timed[i].on_beat && since > 0.5 && since < 6.5;
    }
    ck_assert_int_eq(beats, 6);
}
END_TEST

static uint64_t random_state;
static double random_unit(void)
{
    random_state = random_state * 6364136223846793005U + 1442695040888963407U;
    return (double)(random_state >> 11) * 0x1p-53;
}

/* More ticks than are due change nothing, and the same input gives the same answer, byte for byte. */
START_TEST(ticks_change_nothing)
{
    struct us_follower_settings settings = known(4, 4, 1);
    static struct us_felt first[8 * TUNE_NOTES], first_timed[64 * TUNE_NOTES];
    random_state = (uint64_t)_i;
    score.count = 0;
    write_tune(0, TUNE_NOTES, 3, QUARTERS_S[_i]);
    for (size_t i = 0; i < score.count; i++)
        score.notes[i].at_s += 0.04 * random_unit();
    play_score(&settings, 0);
    size_t count = timed_count;
    memcpy(first, felt, sizeof felt);
    memcpy(first_timed, timed, sizeof timed);
    play_score(&settings, 0.007);
    ck_assert_uint_eq(timed_count, count);
    ck_assert_mem_eq(first, felt, score.count * sizeof *felt);
    ck_assert_mem_eq(first_timed, timed, count * sizeof *timed);
}
END_TEST

/* Slower play gives the same bars, later. */
START_TEST(time_scales)
{
    struct us_follower_settings settings = known(4, 4, 1);
    static struct us_felt first[8 * TUNE_NOTES];
    for (int slow = 0; slow < 2; slow++) {
        score.count = 0;
        write_tune(0, TUNE_NOTES, 0, slow ? 0.72 : 0.6);
        play_score(&settings, 0);
        if (!slow) memcpy(first, felt, sizeof felt);
    }
    for (size_t i = 0; i < TUNE_NOTES; i++) {
        ck_assert_double_eq(felt[i].bar_quarters, first[i].bar_quarters);
        ck_assert_int_eq(felt[i].bar, first[i].bar);
        if (i) ck_assert_double_eq_tol(felt[i].quarter_ns / first[i].quarter_ns, 1.2, 0.02);
    }
}
END_TEST

/* Whatever comes in, in whatever metre, time never runs back and positions stay inside the bar. */
START_TEST(anything_goes)
{
    static const struct us_follower_settings ROWS[TEMPI] = {
        {.pickup = -1},
        {.metre = {7, 8}, .pickup = 0.5},
        {.metre = {1, 32}, .pickup = 1e12},
        {.metre = {32, 1}, .pickup = -1},
        {.metre = {0, 4}, .pickup = 3, .quarters_a_minute = 1e9}};
    random_state = (uint64_t)_i * 77 + 5;
    us_follower_init(&follower, &ROWS[_i]);
    int64_t now = 0, last = 0;
    for (int i = 0; i < 3000; i++) {
        struct us_felt f;
        now += (int64_t)(random_unit() * random_unit() * (random_unit() < 0.02 ? 2e10 : 8e8)) - 1000;
        while (us_follower_due(&follower) <= now) {
            ck_assert(us_follower_tick(&follower, now, &f));
            ck_assert_int_ge(f.at_ns, last);
            last = f.at_ns;
        }
        int pitch = (int)(random_unit() * 140) - 6;
        if (random_unit() < 0.1) us_follower_tap(&follower, now);
        if (random_unit() < 0.5) {
            us_follower_note_off(&follower, now, pitch);
            continue;
        }
        us_follower_onset(&follower, now, pitch, 64, &f);
        ck_assert_int_ge(f.at_ns, last);
        last = f.at_ns;
        ck_assert(f.bar_quarters >= 0 && f.bar_quarters < us_metre_bar_quarters(f.metre));
        ck_assert(f.sure >= 0 && f.sure <= 1.0001 && isfinite(f.quarter_ns));
        ck_assert(us_follower_due(&follower) >= last);
    }
}
END_TEST

/* Two taps before the first note are a count-in: the tempo is known at the first note. */
START_TEST(count_in)
{
    struct us_follower_settings settings = known(4, 4, 0);
    us_follower_init(&follower, &settings);
    us_follower_tap(&follower, ns(1));
    us_follower_tap(&follower, ns(1.5));
    struct us_felt f;
    us_follower_onset(&follower, ns(2), 60, 80, &f);
    ck_assert_double_eq_tol(f.quarter_ns, 0.5e9, 1e6);
}
END_TEST

/* Even notes alone do not tell quarters from eighths; taps at each quarter do. */
START_TEST(taps_while_playing)
{
    for (int taps = 0; taps < 2; taps++) {
        us_follower_init(&follower, NULL);
        struct us_felt f;
        for (int i = 0; i < 24; i++) {
            static const int UP_AND_DOWN[] = {60, 62, 64, 65, 67, 69, 71, 72, 71, 69, 67, 65, 64, 62};
            int64_t at = ns(1 + 0.42 * i);
            us_follower_onset(&follower, at, UP_AND_DOWN[i % 14], 80, &f);
            if (taps) us_follower_tap(&follower, at + (int64_t)2e7);
            us_follower_note_off(&follower, at + (int64_t)3e8, UP_AND_DOWN[i % 14]);
        }
        if (taps) ck_assert_double_eq_tol(f.quarter_ns, 0.42e9, 0.02e9);
        if (!taps) ck_assert_double_gt(f.quarter_ns, 0.6e9);
    }
}
END_TEST

/* Whoever goes back after a quarter of an hour without a stop is at the place of the bar that was left then.
 */
START_TEST(going_back_late)
{
    enum { QUARTERS = 1600, BACK = 3 };
    struct us_follower_settings settings = known(4, 4, 0);
    settings.quarters_a_minute = 120;
    us_follower_init(&follower, &settings);
    struct us_felt before, after;
    unsigned random = 1;
    for (int i = 0; i <= QUARTERS; i++) {
        random = random * 1103515245u + 12345u;
        if (i == QUARTERS)
            us_follower_again(&follower, us_follower_onsets(&follower) - 1 - BACK, before.bar_quarters);
        int pitch = 60 + (int)(random >> 16) % 13;
        us_follower_onset(&follower, ns(1 + 0.5 * i), pitch, 80, &after);
        us_follower_note_off(&follower, ns(1.45 + 0.5 * i), pitch);
        if (i < QUARTERS) before = after;
    }
    ck_assert_int_gt(before.bar, INT16_MAX / (4 * US_FOLLOWER_TICKS));
    ck_assert_double_eq_tol(after.bar_quarters, fmod(before.bar_quarters + 4 - BACK + 1, 4), 1e-6);
}
END_TEST

/* A tune of fewer than four notes has no metre; the tune of these tests has its own,
   and so has a jig made up beside it. */
START_TEST(metre_of_written_tunes)
{
    static const struct {
        uint8_t eighths;
        int8_t pitch;
    } JIG[] = {{1, 62}, {2, 67}, {1, 67}, {1, 69}, {1, 67}, {1, 66}, {2, 67}, {1, 71}, {3, 74}, {1, 72},
               {1, 71}, {1, 72}, {2, 69}, {1, 66}, {1, 67}, {1, 69}, {1, 71}, {2, 67}, {1, 66}, {3, 67},
               {2, 62}, {1, 62}, {2, 67}, {1, 67}, {1, 69}, {1, 67}, {1, 66}, {2, 67}, {1, 71}, {3, 74},
               {1, 72}, {1, 71}, {1, 69}, {1, 67}, {1, 66}, {1, 64}, {2, 62}, {1, 66}, {3, 67}, {2, 67}};
    struct us_note notes[TUNE_NOTES];
    struct us_metre metre;
    double pickup, at = 0;
    score.count = 0;
    write_tune(0, TUNE_NOTES, 0, 1);
    for (size_t i = 0; i < TUNE_NOTES; i++) {
        const struct played *n = &score.notes[i];
        notes[i] = (struct us_note){n->at_s, TUNE[i].eighths * 0.5, (int16_t)n->pitch, 80};
    }
    ck_assert(us_metre_of_tune(notes, TUNE_NOTES, &metre, &pickup));
    ck_assert(metre.top == 4 && metre.bottom == 4);
    ck_assert_double_eq(pickup, 1);
    ck_assert(!us_metre_of_tune(notes, 3, &metre, &pickup));
    size_t count = sizeof JIG / sizeof *JIG;
    for (size_t i = 0; i < count; i++) {
        notes[i] = (struct us_note){at, JIG[i].eighths * 0.5, JIG[i].pitch, 80};
        at += notes[i].len;
    }
    ck_assert(us_metre_of_tune(notes, count, &metre, &pickup));
    ck_assert(metre.top == 6 && metre.bottom == 8);
    ck_assert_double_eq(pickup, 0.5);
}
END_TEST

int main(void)
{
    const TTest *const ONCE[] = {time_scales, count_in, taps_while_playing, going_back_late,
                                 metre_of_written_tunes};
    const TTest *const AT_EACH_TEMPO[] = {tune_with_metre_given,
                                          uneven_quarters,
                                          pickup_is_recognized,
                                          tune_with_nothing_given,
                                          hesitation,
                                          stutter,
                                          grace_notes,
                                          trills,
                                          restart,
                                          bar_again,
                                          long_pause,
                                          held_note,
                                          held_note_that_bounced,
                                          ticks_change_nothing,
                                          anything_goes};
    size_t rows = sizeof AT_EACH_TEMPO / sizeof *AT_EACH_TEMPO;
    TCase *loops = tcase_create("follower at each tempo");
    tcase_set_timeout(loops, 60);
    tcase_add_loop_test(loops, steady_scales, 0, SCALE_CASES);
    for (size_t i = 0; i < rows; i++)
        tcase_add_loop_test(loops, AT_EACH_TEMPO[i], 0, TEMPI);
    return run_tests_and_case("follower", ONCE, sizeof ONCE / sizeof *ONCE, loops,
                              SCALE_CASES + rows * TEMPI);
}
