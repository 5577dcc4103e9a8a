/* Simulated players play the demo tunes, and the follower keeps with them: measured, and held to a rate.  The
   players' habits are common practice, no source; both families play, so that nothing rests on one. */
#include "support.h"

#include "follow_player.h"
#include "steadiness.h"
#include "stumbles.h"

#include "undersong/companion.h"
#include "undersong/tune_file.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static const char *const NAMES[] = {"breakwater-lamp", "ferry-for-two", "fog-signal",  "four-boats",
                                    "late-crossing",   "mole-market",   "net-menders", "sail-loft",
                                    "two-bells",       "water-stairs"};
enum { SONGS = sizeof NAMES / sizeof *NAMES, TURNS = 4 };
static struct us_tune_file songs[SONGS];

static void load_songs(void)
{
    for (int i = 0; i < SONGS; i++) {
        char path[400];
        struct us_error error;
        snprintf(path, sizeof path, TEST_SOURCE_DIR "/../demo-songs/%s.abc", NAMES[i]);
        ck_assert_msg(us_tune_load(path, &songs[i], &error) == US_STATUS_OK, "%s", error.text);
    }
}

static void forget_songs(void)
{
    for (int i = 0; i < SONGS; i++)
        us_tune_file_finish(&songs[i]);
}

static void hear_place(void *context, const struct us_felt *felt)
{
    steadiness_hear(context, felt);
}

/* With nothing given one metre is kept, and bars are counted on: seldom does a bar number go back or jump. */
START_TEST(bars_are_counted_on)
{
    static const enum player PLAYERS_HERE[] = {PLAYER_STEADY, PLAYER_LEARNER, PLAYER_EVEN_SINGING};
    static struct felt_places places;
    struct steadiness sum = {0};
    struct us_follower_settings nothing = {.pickup = -1};
    load_songs();
    for (int turn = 0; turn < SONGS * 3 * TURNS; turn++) {
        const struct us_tune *tune = &songs[turn % SONGS].tune;
        struct performance p;
        ck_assert(player_perform(PLAYERS_HERE[turn / SONGS % 3], tune->notes, tune->note_count,
                                 us_metre_bar_quarters(tune->metre), tune->pickup, 76 + 7 * (turn % 7),
                                 (uint64_t)turn, &p));
        places.count = 0;
        ck_assert(follow_performance(&p, &nothing, hear_place, &places));
        steadiness_add(&sum, tune, &p, &places);
        performance_finish(&p);
    }
    forget_songs();
    printf("# in 100 bars: other metre %.2f, jumps %.2f; uneven %.3f, number %.3f\n",
           100 * sum.other_metre / sum.bars, 100 * sum.jumps / sum.bars, sum.uneven / sum.felt,
           sum.number / sum.lines);
    ck_assert_double_lt(100 * sum.other_metre / sum.bars, 1);
    ck_assert_double_lt(100 * sum.jumps / sum.bars, 2.5);
}
END_TEST

/* One stumble in the middle of a tune: how often the next bar line (after going back, the first that comes a
   bar later) is felt where it is.  A note struck twice out of time, and a start again at a bar line of which
   little was played, cannot always be told from new notes. */
START_TEST(stumbles_do_not_shift_the_bar)
{
    static const struct {
        enum stumble stumble;
        double given, unknown; /* share of times right, at least, with metre and pickup given and without */
    } RATES[] = {{STUMBLE_HESITATES, 0.85, 0.7},   {STUMBLE_STUTTERS, 0.9, 0.7},
                 {STUMBLE_REPEATS, 0.4, 0.35},     {STUMBLE_FROM_LINE, 0.6, 0.5},
                 {STUMBLE_BAR_BEFORE, 0.85, 0.65}, {STUMBLE_FROM_START, 0.9, 0.65}};
    load_songs();
    for (int i = 0; i < 2 * STUMBLES; i++) {
        struct recovery sum = {0};
        bool given = i < STUMBLES;
        for (int song = 0; song < SONGS; song++) {
            const struct us_tune *tune = &songs[song].tune;
            for (size_t at = 9; at + 8 < tune->note_count; at += 2)
                recovery_add(&sum, RATES[i % STUMBLES].stumble, tune, given, 72 + 9 * (double)(at % 5), at,
                             at);
        }
        printf("# %s, metre %s: %.3f right\n", stumble_name(RATES[i % STUMBLES].stumble),
               given ? "given" : "unknown", sum.right / sum.tried);
        ck_assert_double_gt(sum.tried, 100);
        ck_assert_msg(sum.right >
                          sum.tried * (given ? RATES[i % STUMBLES].given : RATES[i % STUMBLES].unknown),
                      "%s: %g of %g", stumble_name(RATES[i % STUMBLES].stumble), sum.right, sum.tried);
    }
    forget_songs();
}
END_TEST

/* ---- the whole companion ---- */

struct strikes {
    double s[4096];
    size_t count;
};

/* One step and the ticks that are due before it; when the left hand strikes is noted. */
static void step(struct us_companion *c, const struct us_event *event, struct strikes *strikes)
{
    static struct us_actions out;
    us_companion_step(c, event, &out);
    for (uint32_t i = 0; i < out.count; i++) {
        const struct us_action *a = &out.list[i];
        if (a->kind == US_ACTION_NOTE_ON && a->voice == US_VOICE_LEFT && strikes->count < 4096)
            strikes->s[strikes->count++] = (double)event->at_ns * 1e-9;
    }
}

/* Notes are let go when the next one comes, at the latest. */
static void accompany(const struct performance *p, const struct us_companion_settings *settings,
                      struct strikes *strikes)
{
    struct us_companion *c = malloc(us_companion_size());
    ck_assert_ptr_nonnull(c);
    us_companion_init(c, settings);
    strikes->count = 0;
    for (size_t i = 0; i < p->note_count; i++) {
        const struct played_note *n = &p->notes[i];
        int64_t at_ns = (int64_t)(n->on_s * 1e9);
        for (int64_t due; (due = us_companion_due(c)) <= at_ns;)
            step(c, &(struct us_event){.at_ns = due, .kind = US_EVENT_TICK}, strikes);
        if (i)
            step(c,
                 &(struct us_event){.at_ns = at_ns, .kind = US_EVENT_NOTE_OFF, .pitch = (uint8_t)n[-1].pitch},
                 strikes);
        step(c,
             &(struct us_event){.at_ns = at_ns,
                                .kind = US_EVENT_NOTE_ON,
                                .pitch = (uint8_t)n->pitch,
                                .velocity = (uint8_t)n->velocity},
             strikes);
    }
    free(c);
}

/* With nothing given the first note has no chord, since it may be a pickup; the first chord comes by the
   second bar line.  With the pickup given, or none, it comes at once. */
START_TEST(first_chord)
{
    static struct strikes strikes;
    int in_time = 0, turns = SONGS * TURNS;
    load_songs();
    for (int turn = 0; turn < turns; turn++) {
        const struct us_tune *tune = &songs[turn % SONGS].tune;
        double bar = us_metre_bar_quarters(tune->metre);
        struct performance p;
        ck_assert(player_perform(turn & 1 ? PLAYER_LEARNER : PLAYER_SINGING, tune->notes, tune->note_count,
                                 bar, tune->pickup, 80, (uint64_t)turn, &p));
        struct us_companion_settings settings = {.key = {US_NO_KEY, 0}, .pickup = -1, .share = 100};
        accompany(&p, &settings, &strikes);
        ck_assert_uint_gt(strikes.count, 0);
        ck_assert_double_gt(strikes.s[0], p.notes[0].on_s + 0.05);
        in_time += strikes.s[0] < performance_clock(&p, tune->pickup + bar) + 0.1;
        settings.metre = tune->metre;
        settings.pickup = tune->pickup;
        accompany(&p, &settings, &strikes);
        ck_assert_double_lt(strikes.s[0], performance_clock(&p, tune->pickup) + 0.1);
        performance_finish(&p);
    }
    forget_songs();
    printf("# first chord by the second bar line: %d of %d\n", in_time, turns);
    ck_assert_int_ge(in_time * 20, turns * 19);
}
END_TEST

int main(void)
{
    const TTest *const TESTS[] = {bars_are_counted_on, stumbles_do_not_shift_the_bar, first_chord};
    return RUN_TESTS("following", TESTS);
}
