/* Simulated players play the demo tunes, and the follower keeps with them: measured, and held to a rate.  The
   players' habits are common practice, no source; both families play, so that nothing rests on one. */
#include "support.h"

#include "follow_player.h"
#include "steadiness.h"

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

int main(void)
{
    const TTest *const TESTS[] = {bars_are_counted_on};
    return RUN_TESTS("following", TESTS);
}
