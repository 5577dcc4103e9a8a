#include "support.h"

#include "fingering_model.h"

#include <stdio.h>
#include <string.h>

enum { MOST = 64 };

static void finger(const char *key_name, const int *pitches, size_t count, double span, char *out)
{
    struct us_fingering_settings settings = {.span_semitones = span};
    if (*key_name)
        ck_assert(us_key_parse(key_name, &settings.key));
    else
        settings.key.tonic = US_NO_KEY;
    struct us_note notes[MOST];
    uint8_t workspace[MOST * 25], fingers[MOST];
    ck_assert_uint_le(count, MOST);
    ck_assert_uint_le(us_fingering_workspace(count), sizeof workspace);
    for (size_t i = 0; i < count; i++)
        notes[i] = (struct us_note){(double)i, 1, (int16_t)pitches[i], 80};
    us_fingering_right(notes, count, &settings, workspace, fingers);
    for (size_t i = 0; i < count; i++)
        out[i] = (char)('0' + fingers[i]);
    out[count] = 0;
}

enum { SCALE_NOTES = 15 };

static void scale(const char *key_name, bool down, int *pitches)
{
    struct us_key key;
    ck_assert(us_key_parse(key_name, &key));
    int first = key.tonic + (key.tonic < 8 ? 60 : 48);
    for (int i = 0; i < SCALE_NOTES; i++) {
        int pitch = first + 12 * (i / 7) + us_mode_step_semitones((enum us_mode)key.mode, i % 7 + 1);
        if (key.mode == US_MODE_MINOR && i % 7 == 6) pitch++; /* the harmonic one */
        pitches[down ? SCALE_NOTES - 1 - i : i] = pitch;
    }
}

/* Two octaves up; down is the same backwards.  Majors: Indiana University, Secondary Piano, scales; the last
   finger, and the harmonic minors, from memory. */
static const struct {
    const char *key, *fingers;
} SCALES[] = {
    {"C", "123123412312345"},   {"G", "123123412312345"},   {"D", "123123412312345"},
    {"A", "123123412312345"},   {"E", "123123412312345"},   {"B", "123123412312345"},
    {"F", "123412312341234"},   {"Bb", "412312341231234"},  {"Eb", "312341231234123"},
    {"Ab", "341231234123123"},  {"Db", "231234123123412"},  {"F#", "234123123412312"},
    {"Am", "123123412312345"},  {"Em", "123123412312345"},  {"Bm", "123123412312345"},
    {"Dm", "123123412312345"},  {"Gm", "123123412312345"},  {"Cm", "123123412312345"},
    {"Fm", "123412312341234"},  {"Bbm", "412312341231234"}, {"Ebm", "312341231234123"},
    {"C#m", "341231234123123"}, {"F#m", "341231234123123"}, {"G#m", "341231234123123"},
};

START_TEST(fingering_scales_of_the_handbook)
{
    int wrong = 0;
    for (size_t i = 0; i < sizeof SCALES / sizeof *SCALES; i++) {
        for (int down = 0; down < 2; down++) {
            int pitches[SCALE_NOTES];
            char got[MOST + 1], want[MOST + 1];
            scale(SCALES[i].key, down, pitches);
            finger(SCALES[i].key, pitches, SCALE_NOTES, 0, got);
            for (int n = 0; n < SCALE_NOTES; n++)
                want[n] = SCALES[i].fingers[down ? SCALE_NOTES - 1 - n : n];
            want[SCALE_NOTES] = 0;
            if (strcmp(got, want)) wrong++, fprintf(stderr, "%s: %s, not %s\n", SCALES[i].key, got, want);
        }
    }
    ck_assert_int_eq(wrong, 0);
}
END_TEST

/* Five-finger tunes stay in one hand position; an E-flat tune starts with the third finger, and B-flat falls
   to the fourth (common practice, no source). */
START_TEST(fingering_of_little_tunes)
{
    static const struct {
        const char *key;
        int pitches[16];
        size_t count;
        const char *fingers;
    } ROWS[] = {
        {"C", {60, 62, 64, 65, 67, 65, 64, 62, 60}, 9, "123454321"},
        {"G", {67, 71, 74, 71, 67}, 5, "13531"},
        {"D", {74, 73, 71, 69, 67, 66, 64, 62}, 8, "54321321"},
        {"F", {65, 67, 69, 70, 72, 74, 76, 77}, 8, "12341234"},
        {"Eb", {63, 65, 67, 68, 70, 72, 74, 75}, 8, "31234123"},
        {"C", {60, 60, 60, 62, 64}, 5, "11123"},
    };
    for (size_t i = 0; i < sizeof ROWS / sizeof *ROWS; i++) {
        char got[MOST + 1];
        finger(ROWS[i].key, ROWS[i].pitches, ROWS[i].count, 0, got);
        ck_assert_str_eq(got, ROWS[i].fingers);
    }
}
END_TEST

START_TEST(fingering_in_e_flat_starts_with_the_third)
{
    static const int STARTS[][5] = {{63, 65, 67, 68, 70},
                                    {63, 67, 70, 67, 63},
                                    {63, 70, 68, 67, 65},
                                    {63, 62, 63, 65, 67},
                                    {63, 63, 65, 67, 65}};
    for (size_t i = 0; i < sizeof STARTS / sizeof *STARTS; i++) {
        char got[MOST + 1];
        finger("Eb", STARTS[i], 5, 0, got);
        ck_assert_msg(got[0] == '3', "row %zu: %s", i, got);
    }
}
END_TEST

/* The effort of fingers that somebody has written, by the same rules. */
static double effort_of(const struct us_note *notes, size_t count,
                        const struct us_fingering_settings *settings, const uint8_t *fingers)
{
    struct fingering_model m = fingering_model_of(settings);
    double effort = 0;
    for (size_t i = 0; i < count; i++)
        effort += fingering_step_cost(&m, notes, count, i, i >= 2 ? fingers[i - 2] : 0,
                                      i >= 1 ? fingers[i - 1] : 0, fingers[i]);
    return effort;
}

/* No other fingering of a short melody is easier by the model's own count: all 5^5 are tried. */
START_TEST(fingering_is_the_easiest)
{
    uint32_t state = 7;
    for (int round = 0; round < 12; round++) {
        struct us_note notes[5];
        struct us_fingering_settings settings = {.key = {(int8_t)(round % 12), US_MODE_MAJOR}};
        for (int i = 0; i < 5; i++) {
            state = state * 1664525u + 1013904223u;
            notes[i] = (struct us_note){i + (i > 3), 1, (int16_t)(60 + (state >> 16) % 17), 80};
        }
        uint8_t workspace[5 * 25], fingers[5], trial[5];
        double best = us_fingering_right(notes, 5, &settings, workspace, fingers);
        ck_assert_double_eq_tol(effort_of(notes, 5, &settings, fingers), best, 1e-9);
        double least = best;
        for (int n = 0; n < 3125; n++) {
            for (int i = 0, rest = n; i < 5; i++, rest /= 5)
                trial[i] = (uint8_t)(rest % 5 + 1);
            double effort = effort_of(notes, 5, &settings, trial);
            if (effort < least) least = effort;
        }
        ck_assert_double_eq_tol(least, best, 1e-9);
    }
}
END_TEST

/* A tenth in one grip of a grown-up's hand, in two of a child's; and the grown-up's fingers would be an
   effort for the child. */
START_TEST(fingering_follows_the_hand)
{
    static const int TENTH[] = {60, 67, 72, 76, 72, 67};
    char got[MOST + 1];
    finger("C", TENTH, 6, 0, got);
    ck_assert_str_eq(got, "124531");
    finger("C", TENTH, 6, 10, got);
    ck_assert_str_eq(got, "112521");
    struct us_note notes[] = {{0, 1, 60, 80}, {1, 1, 64, 80}, {2, 1, 67, 80}, {3, 1, 72, 80}};
    struct us_fingering_settings big = {.key = {0, US_MODE_MAJOR}}, small = big;
    small.span_semitones = 10;
    uint8_t workspace[4 * 25], fingers[4];
    double large = us_fingering_right(notes, 4, &big, workspace, fingers);
    ck_assert_int_eq(fingers[3], 5);
    ck_assert_double_gt(effort_of(notes, 4, &small, fingers), large + 1);
}
END_TEST

/* Five steps, and after a rest of a quarter five more: each in one hand position.  Without the rest the thumb
   goes under. */
START_TEST(fingering_moves_in_a_rest)
{
    static const int STEPS[] = {60, 62, 64, 65, 67, 69, 71, 72, 74, 76};
    enum { COUNT = sizeof STEPS / sizeof *STEPS };
    struct us_fingering_settings settings = {.key = {0, US_MODE_MAJOR}};
    for (int rest = 0; rest < 2; rest++) {
        struct us_note notes[COUNT];
        uint8_t workspace[COUNT * 25], fingers[COUNT];
        for (int i = 0; i < COUNT; i++)
            notes[i] = (struct us_note){i + (i >= 5 ? rest : 0), 1, (int16_t)STEPS[i], 80};
        us_fingering_right(notes, COUNT, &settings, workspace, fingers);
        bool one_position = true;
        for (int i = 0; i < COUNT; i++)
            one_position = one_position && fingers[i] == i % 5 + 1;
        ck_assert_int_eq(one_position, rest);
    }
}
END_TEST

/* The same on every octave of the keyboard, with no key and with nothing to play. */
START_TEST(fingering_edges)
{
    static const int TUNE[] = {60, 62, 64, 67, 65, 64, 62, 71, 72};
    int high[9];
    for (int i = 0; i < 9; i++)
        high[i] = TUNE[i] + 24;
    char low_fingers[MOST + 1], high_fingers[MOST + 1];
    finger("C", TUNE, 9, 0, low_fingers);
    finger("C", high, 9, 0, high_fingers);
    ck_assert_str_eq(low_fingers, high_fingers);
    finger("", TUNE, 1, 0, low_fingers);
    ck_assert(low_fingers[0] >= '1' && low_fingers[0] <= '5');
    finger("", TUNE, 0, 0, low_fingers);
    ck_assert_str_eq(low_fingers, "");
}
END_TEST

int main(void)
{
    const TTest *const TESTS[] = {
        fingering_scales_of_the_handbook,
        fingering_of_little_tunes,
        fingering_in_e_flat_starts_with_the_third,
        fingering_is_the_easiest,
        fingering_follows_the_hand,
        fingering_moves_in_a_rest,
        fingering_edges,
    };
    return RUN_TESTS("fingering", TESTS);
}
