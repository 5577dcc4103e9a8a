/* The demo tunes are what the README says they are.  The rules are common practice, no source. */
#include "support.h"

#include "undersong/tune_file.h"

#include <glob.h>
#include <stdio.h>
#include <stdlib.h>

static struct us_tune_file load(const char *name)
{
    char path[400];
    struct us_tune_file file;
    struct us_error error;
    snprintf(path, sizeof path, TEST_SOURCE_DIR "/../demo-songs/%s.abc", name);
    ck_assert_msg(us_tune_load(path, &file, &error) == US_STATUS_OK, "%s", error.text);
    return file;
}

static const char *const NAMES[] = {"breakwater-lamp", "ferry-for-two", "fog-signal",  "four-boats",
                                    "late-crossing",   "mole-market",   "net-menders", "sail-loft",
                                    "two-bells",       "water-stairs"};
enum { COUNT = sizeof NAMES / sizeof *NAMES };

static struct us_chord chord_at(const struct us_tune *tune, double at)
{
    return us_chord_at(tune->chords, tune->chord_count, at);
}

static bool starts_bar(const struct us_tune *tune, double at)
{
    for (size_t b = 0; b < tune->bar_count; b++)
        if (tune->bars[b].at > at - 1e-6 && tune->bars[b].at < at + 1e-6)
            return tune->bars[b].at >= tune->pickup;
    return false;
}

static int pitch_at(const struct us_note *notes, size_t count, double at)
{
    for (size_t i = count; i-- > 0;)
        if (notes[i].at <= at + 1e-6) return notes[i].at + notes[i].len > at + 1e-6 ? notes[i].pitch : -1;
    return -1;
}

/* Metres, modes, primary triads only, the downbeat's note in its chord, an end on step 1 over I, full bars, a
   range to sing. */
START_TEST(demo_songs_make_sense)
{
    unsigned metres = 0, modes = 0;
    glob_t found;
    ck_assert_int_eq(glob(TEST_SOURCE_DIR "/../demo-songs/*.abc", 0, NULL, &found), 0);
    ck_assert_uint_eq(found.gl_pathc, COUNT); /* each one that is there is named */
    globfree(&found);
    for (int s = 0; s < COUNT; s++) {
        struct us_tune_file file = load(NAMES[s]);
        const struct us_tune *tune = &file.tune;
        metres |= 1u << (tune->metre.top == 6 ? 5 : tune->metre.top);
        modes |= 1u << tune->key.mode;
        int low = 127, high = 0, bars = 0, fits = 0;
        for (size_t i = 0; i < tune->note_count; i++) {
            const struct us_note *note = &tune->notes[i];
            low = note->pitch < low ? note->pitch : low;
            high = note->pitch > high ? note->pitch : high;
            if (!starts_bar(tune, note->at)) continue;
            struct us_chord chord = chord_at(tune, note->at);
            bars++;
            fits += us_pcset_has(us_chord_tones(chord), note->pitch);
            struct us_chord primary = us_chord_primary(tune->key, us_chord_role(chord, tune->key));
            ck_assert_msg(primary.root == chord.root, "%s: a chord that is not primary", NAMES[s]);
        }
        ck_assert_msg(fits * 20 >= bars * 19, "%s: %d of %d downbeats fit", NAMES[s], fits, bars);
        const struct us_note *last = &tune->notes[tune->note_count - 1];
        ck_assert_int_eq(us_key_step(tune->key, last->pitch).number, 1);
        ck_assert_int_eq(us_chord_role(chord_at(tune, last->at), tune->key), US_ROLE_I);
        ck_assert_msg(high - low <= 19 && low >= 55, "%s: %d to %d", NAMES[s], low, high);
        ck_assert_uint_ge(tune->bar_count, 16);
        double bar = us_metre_bar_quarters(tune->metre);
        for (size_t b = tune->pickup > 0; b + 1 < tune->bar_count; b++) {
            bool after_repeat = tune->bars[b].repeat_times || tune->bars[b].closes;
            ck_assert_msg(after_repeat || tune->bars[b].len == bar, "%s: bar %zu of %g", NAMES[s], b,
                          tune->bars[b].len);
        }
        us_tune_file_finish(&file);
    }
    ck_assert_uint_eq(metres, 1u << 2 | 1u << 3 | 1u << 4 | 1u << 5);
    ck_assert_uint_eq(modes, 1u << US_MODE_MAJOR | 1u << US_MODE_MINOR);
}
END_TEST

START_TEST(two_bells_strong_beats)
{
    struct us_tune_file file = load("two-bells");
    for (size_t i = 0; i < file.tune.note_count; i++) {
        if (!starts_bar(&file.tune, file.tune.notes[i].at)) continue;
        int step = us_key_step(file.tune.key, file.tune.notes[i].pitch).number;
        ck_assert(step == 1 || step == 5);
    }
    us_tune_file_finish(&file);
}
END_TEST

START_TEST(water_stairs_run_down)
{
    struct us_tune_file file = load("water-stairs");
    const struct us_note *notes = file.tune.notes;
    for (size_t i = 1; i < file.tune.note_count; i++)
        ck_assert_int_le(notes[i].pitch, notes[0].pitch);
    for (int i = 1; i < 7; i++) {
        int step = us_key_step(file.tune.key, notes[i].pitch).number;
        ck_assert_int_eq(step, 8 - i);
        ck_assert_int_lt(notes[i].pitch, notes[i - 1].pitch);
    }
    us_tune_file_finish(&file);
}
END_TEST

START_TEST(ferry_in_thirds_and_sixths)
{
    struct us_tune_file file = load("ferry-for-two");
    ck_assert_uint_eq(file.tune.second_count, file.tune.note_count);
    int thirds = 0, sixths = 0;
    for (size_t i = 0; i < file.tune.note_count; i++) {
        int apart = file.tune.notes[i].pitch - file.tune.second[i].pitch;
        ck_assert(file.tune.notes[i].at == file.tune.second[i].at);
        thirds += apart == 3 || apart == 4;
        sixths += apart == 8 || apart == 9;
    }
    ck_assert_uint_eq((unsigned)(thirds + sixths), file.tune.note_count);
    ck_assert(thirds > 5 && sixths > 5);
    us_tune_file_finish(&file);
}
END_TEST

/* Four phrases of the same chords; on each beat any two of them sound without a semitone between them. */
START_TEST(four_boats_is_a_round)
{
    struct us_tune_file file = load("four-boats");
    const struct us_tune *tune = &file.tune;
    for (double at = 0; at < 16; at += 1)
        for (int a = 0; a < 4; a++)
            for (int b = 0; b < a; b++) {
                ck_assert(us_chord_equal(chord_at(tune, at + 16 * a), chord_at(tune, at + 16 * b)));
                int apart = us_pitch_class(pitch_at(tune->notes, tune->note_count, at + 16 * a) -
                                           pitch_at(tune->notes, tune->note_count, at + 16 * b));
                ck_assert_msg(apart != 1 && apart != 11, "lines %d and %d clash on beat %g", a, b, at);
            }
    us_tune_file_finish(&file);
}
END_TEST

int main(void)
{
    const TTest *const TESTS[] = {demo_songs_make_sense, two_bells_strong_beats, water_stairs_run_down,
                                  ferry_in_thirds_and_sixths, four_boats_is_a_round};
    return RUN_TESTS("demo_songs", TESTS);
}
