#include "support.h"

#include "undersong/harmony.h"

#include <string.h>

enum { NOTES_MAX = 64 };

/* A tune of quarter notes in 4/4 from pitches; 0 ends it. */
static size_t quarters(const int *pitches, int shift, struct us_note *notes)
{
    size_t n = 0;
    for (; pitches[n]; n++)
        notes[n] = (struct us_note){(double)n, 1, (int16_t)(pitches[n] + shift), 80};
    return n;
}

static size_t harmonize(const int *pitches, int shift, enum us_change change, struct us_chord_choice *out)
{
    static struct us_note notes[NOTES_MAX];
    static double workspace[1 << 15];
    struct us_tune tune = {.notes = notes, .note_count = quarters(pitches, shift, notes), .title = ""};
    struct us_harmony_request request = {.tune = &tune,
                                         .key = {(int8_t)us_pitch_class(shift), US_MODE_MAJOR},
                                         .metre = {4, 4},
                                         .chords = US_CHORDS_PRIMARY,
                                         .change = change};
    ck_assert(us_harmony_workspace_size(&request) <= sizeof workspace);
    return us_harmony_tune(&request, workspace, out, NOTES_MAX, NULL);
}

static const int UP_AND_DOWN[] = {60, 62, 64, 65, 67, 69, 71, 72, 72, 71, 69, 67, 65, 64, 62, 60, 0};

START_TEST(harmony_transposed_tune_gets_transposed_chords)
{
    struct us_chord_choice home[NOTES_MAX], away[NOTES_MAX];
    size_t count = harmonize(UP_AND_DOWN, 0, US_CHANGE_BEAT, home);
    for (int shift = -5; shift <= 6; shift++) {
        ck_assert_uint_eq(harmonize(UP_AND_DOWN, shift, US_CHANGE_BEAT, away), count);
        for (size_t i = 0; i < count; i++) {
            ck_assert_int_eq(away[i].choice.chord.root, us_pitch_class(home[i].choice.chord.root + shift));
            ck_assert_double_eq(away[i].at, home[i].at);
        }
    }
}
END_TEST

START_TEST(harmony_covers_the_tune_and_starts_and_ends_on_one)
{
    struct us_chord_choice out[NOTES_MAX];
    size_t count = harmonize(UP_AND_DOWN, 0, US_CHANGE_BEAT, out);
    double at = 0;
    for (size_t i = 0; i < count; i++) {
        ck_assert_double_eq(out[i].at, at);
        at += out[i].len;
    }
    ck_assert_double_eq(at, 16);
    ck_assert_int_eq(out[0].choice.chord.root, 0);
    ck_assert_int_eq(out[count - 1].choice.chord.root, 0);
}
END_TEST

START_TEST(harmony_changes_only_at_bar_lines_when_told_so)
{
    struct us_chord_choice out[NOTES_MAX];
    size_t count = harmonize(UP_AND_DOWN, 0, US_CHANGE_BAR, out);
    for (size_t i = 0; i < count; i++)
        ck_assert_int_eq((int)out[i].at % 4, 0);
}
END_TEST

int main(void)
{
    const TTest *const TESTS[] = {harmony_transposed_tune_gets_transposed_chords,
                                  harmony_covers_the_tune_and_starts_and_ends_on_one,
                                  harmony_changes_only_at_bar_lines_when_told_so};
    return RUN_TESTS("harmony", TESTS);
}
