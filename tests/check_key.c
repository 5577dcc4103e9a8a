#include "support.h"

#include "undersong/key.h"

/* Signatures by the circle of fifths, sharps counted up and flats down (common practice, no source). */
START_TEST(key_names_both_ways)
{
    static const struct {
        const char *text, *name;
        int tonic, mode, signature;
    } ROWS[] = {
        {"C", "C major", 0, US_MODE_MAJOR, 0},        {"G", "G major", 7, US_MODE_MAJOR, 1},
        {"Bb", "Bb major", 10, US_MODE_MAJOR, -2},    {"F#", "F# major", 6, US_MODE_MAJOR, 6},
        {"Db", "Db major", 1, US_MODE_MAJOR, -5},     {"Em", "E minor", 4, US_MODE_MINOR, 1},
        {"C minor", "C minor", 0, US_MODE_MINOR, -3}, {"F#m", "F# minor", 6, US_MODE_MINOR, 3},
        {"D dor", "D dorian", 2, US_MODE_DORIAN, 0},  {"A Mix", "A mixolydian", 9, US_MODE_MIXOLYDIAN, 2},
        {"Eb", "Eb major", 3, US_MODE_MAJOR, -3},     {"G#m", "G# minor", 8, US_MODE_MINOR, 5},
        {"Gmin", "G minor", 7, US_MODE_MINOR, -2},    {"Cmaj", "C major", 0, US_MODE_MAJOR, 0},
    };
    char name[24];
    for (size_t i = 0; i < sizeof ROWS / sizeof *ROWS; i++) {
        struct us_key key;
        ck_assert_msg(us_key_parse(ROWS[i].text, &key), "%s", ROWS[i].text);
        ck_assert_int_eq(key.tonic, ROWS[i].tonic);
        ck_assert_int_eq(key.mode, ROWS[i].mode);
        ck_assert_int_eq(us_key_signature(key), ROWS[i].signature);
        ck_assert_str_eq(us_key_name(key, name, sizeof name), ROWS[i].name);
    }
}
END_TEST

START_TEST(key_refuses)
{
    static const char *const BAD[] = {"", "H", "Cx", "G mi", "D lyd", "7", "C majorette"};
    struct us_key key;
    for (size_t i = 0; i < sizeof BAD / sizeof *BAD; i++)
        ck_assert_msg(!us_key_parse(BAD[i], &key), "%s", BAD[i]);
}
END_TEST

static void check_scale(const char *key_name, int first, const char *const *syllables,
                        enum us_syllables style)
{
    struct us_key key;
    ck_assert(us_key_parse(key_name, &key));
    int pitch = first;
    for (int step = 1; step <= 7; step++) {
        pitch = first + us_mode_step_semitones(key.mode, step);
        ck_assert_int_eq(us_key_step(key, pitch).number, step);
        ck_assert_int_eq(us_key_step(key, pitch).alter, 0);
        ck_assert_str_eq(us_key_syllable(key, pitch, style), syllables[step - 1]);
        ck_assert(us_pcset_has(us_key_scale(key), pitch));
    }
}

/* Movable do, la-based and do-based minor: common practice, no source. */
START_TEST(key_steps_and_syllables)
{
    static const char *const MAJOR[] = {"do", "re", "mi", "fa", "sol", "la", "ti"};
    static const char *const LA[] = {"la", "ti", "do", "re", "mi", "fa", "sol"};
    static const char *const DO[] = {"do", "re", "me", "fa", "sol", "le", "te"};
    check_scale("G", 67, MAJOR, US_SYLLABLES_LA);
    check_scale("Db", 61, MAJOR, US_SYLLABLES_DO);
    check_scale("Em", 64, LA, US_SYLLABLES_LA);
    check_scale("Em", 64, DO, US_SYLLABLES_DO);
}
END_TEST

/* Step 7 of minor is raised in the leading note, si in la-based minor (common practice, no source). */
START_TEST(key_leading_note_of_minor)
{
    struct us_key a_minor = {9, US_MODE_MINOR};
    struct us_step step = us_key_step(a_minor, 68);
    ck_assert_int_eq(step.number, 7);
    ck_assert_int_eq(step.alter, 1);
    ck_assert_str_eq(us_key_syllable(a_minor, 68, US_SYLLABLES_LA), "si");
}
END_TEST

/* Notes outside the key as they are mostly written in it (common practice, no source). */
START_TEST(key_spelling)
{
    static const struct {
        const char *key;
        int pitch_class;
        const char *letter;
    } ROWS[] = {
        {"G", 6, "F#"},  {"Db", 6, "Gb"}, {"F", 10, "Bb"}, {"E", 8, "G#"},  {"Cm", 8, "Ab"},
        {"Am", 8, "G#"}, {"C", 6, "F#"},  {"C", 10, "Bb"}, {"Dm", 1, "C#"},
    };
    static const struct {
        int spelling;
        const char *name;
    } PLACES[] = {{-1, "F"}, {5, "B"}, {6, "F#"}, {-15, "Fbb"}, {19, "B##"}, {20, "G#"}, {-16, "Ab"}};
    char letter[4];
    for (size_t i = 0; i < sizeof PLACES / sizeof *PLACES; i++)
        ck_assert_str_eq(us_spelling_name(PLACES[i].spelling, letter, sizeof letter), PLACES[i].name);
    for (size_t i = 0; i < sizeof ROWS / sizeof *ROWS; i++) {
        struct us_key key;
        ck_assert(us_key_parse(ROWS[i].key, &key));
        ck_assert_str_eq(us_key_letter(key, ROWS[i].pitch_class, letter, sizeof letter), ROWS[i].letter);
    }
}
END_TEST

/* Every pitch in every key has a step from 1 to 7 that leads back to the pitch. */
START_TEST(key_step_is_reversible)
{
    for (int tonic = 0; tonic < 12; tonic++)
        for (int mode = 0; mode < US_MODES; mode++)
            for (int pitch = 0; pitch < 128; pitch++) {
                struct us_key key = {(int8_t)tonic, (uint8_t)mode};
                struct us_step step = us_key_step(key, pitch);
                ck_assert(step.number >= 1 && step.number <= 7 && step.alter >= -1 && step.alter <= 1);
                int back = tonic + us_mode_step_semitones((enum us_mode)mode, step.number) + step.alter;
                ck_assert_int_eq(us_pitch_class(back), us_pitch_class(pitch));
            }
}
END_TEST

int main(void)
{
    const TTest *const TESTS[] = {key_names_both_ways,       key_refuses,  key_steps_and_syllables,
                                  key_leading_note_of_minor, key_spelling, key_step_is_reversible};
    return RUN_TESTS("key", TESTS);
}
