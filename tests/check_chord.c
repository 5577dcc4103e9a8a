#include "support.h"

#include "undersong/chord.h"
#include "undersong/signs.h"

#include <stdio.h>
#include <string.h>

/* How lead sheets write chords (common practice, no source); bass notes, and what stands above a seventh, are
   left out. */
START_TEST(chord_symbols)
{
    static const struct {
        const char *text;
        int root, kind;
        const char *back;
    } ROWS[] = {
        {"G", 7, US_CHORD_MAJ, "G"},         {"Em", 4, US_CHORD_MIN, "Em"},
        {"D7", 2, US_CHORD_DOM7, "D7"},      {"F#dim", 6, US_CHORD_DIM, "F#dim"},
        {"Am7", 9, US_CHORD_MIN7, "Am7"},    {"Gmaj7", 7, US_CHORD_MAJ, "G"},
        {"D/F#", 2, US_CHORD_MAJ, "D"},      {"C/G", 0, US_CHORD_MAJ, "C"},
        {"A-", 9, US_CHORD_MIN, "Am"},       {"D9", 2, US_CHORD_DOM7, "D7"},
        {"Gsus4", 7, US_CHORD_MAJ, "G"},     {"D7/F#", 2, US_CHORD_DOM7, "D7"},
        {"Am(maj7)", 9, US_CHORD_MIN, "Am"}, {"Cma7", 0, US_CHORD_MAJ, "C"},
        {"CM7", 0, US_CHORD_MAJ, "C"},       {"Cadd9", 0, US_CHORD_MAJ, "C"},
        {"Amadd9", 9, US_CHORD_MIN, "Am"},   {"Cmadd11", 0, US_CHORD_MIN, "Cm"},
        {"C7add13", 0, US_CHORD_DOM7, "C7"}, {"D13/E", 2, US_CHORD_DOM7, "D7"},
        {"Bm7b5", 11, US_CHORD_DIM, "Bdim"}, {"Bm7(b5)", 11, US_CHORD_DIM, "Bdim"},
        {"B-7b5", 11, US_CHORD_DIM, "Bdim"}, {"Bm7-5", 11, US_CHORD_DIM, "Bdim"},
        {"D7b5", 2, US_CHORD_DOM7, "D7"},    {"Bo7", 11, US_CHORD_DIM, "Bdim"},
        {"Dmin7", 2, US_CHORD_MIN7, "Dm7"},
    };
    struct us_key g = {7, US_MODE_MAJOR};
    char back[8];
    for (size_t i = 0; i < sizeof ROWS / sizeof *ROWS; i++) {
        struct us_chord chord;
        ck_assert_msg(us_chord_parse(ROWS[i].text, &chord), "%s", ROWS[i].text);
        ck_assert_int_eq(chord.root, ROWS[i].root);
        ck_assert_int_eq(chord.kind, ROWS[i].kind);
        ck_assert_str_eq(us_chord_symbol(chord, g, back, sizeof back), ROWS[i].back);
    }
}
END_TEST

START_TEST(chord_words_are_no_chords)
{
    static const char *const WORDS[] = {"", "Fine", "D.C.", "N.C.", "slow", "Coda", "Allegro"};
    struct us_chord chord;
    for (size_t i = 0; i < sizeof WORDS / sizeof *WORDS; i++)
        ck_assert_msg(!us_chord_parse(WORDS[i], &chord), "%s", WORDS[i]);
}
END_TEST

/* Capitals for major, small letters for minor, o for diminished (common practice, no source). */
START_TEST(chord_numerals)
{
    static const struct {
        const char *key, *symbol, *numeral;
    } ROWS[] = {
        {"G", "G", "I"},     {"G", "C", "IV"},   {"G", "D", "V"},      {"G", "D7", "V7"},
        {"G", "Em", "vi"},   {"G", "Am", "ii"},  {"G", "Bm", "iii"},   {"G", "F#dim", "viio"},
        {"G", "A7", "V7/V"}, {"G", "A", "V/V"},  {"G", "F", "bVII"},   {"Am", "Am", "i"},
        {"Am", "Dm", "iv"},  {"Am", "E", "V"},   {"Am", "E7", "V7"},   {"Am", "C", "III"},
        {"Am", "F", "VI"},   {"Am", "G", "VII"}, {"G", "G7", "V7/IV"}, {"Am", "G#dim", "viio"},
    };
    char numeral[12];
    for (size_t i = 0; i < sizeof ROWS / sizeof *ROWS; i++) {
        struct us_key key;
        struct us_chord chord;
        ck_assert(us_key_parse(ROWS[i].key, &key) && us_chord_parse(ROWS[i].symbol, &chord));
        ck_assert_str_eq(us_chord_numeral(chord, key, numeral, sizeof numeral), ROWS[i].numeral);
    }
}
END_TEST

/* Primary triads from the scale: root, third and fifth of steps 1, 4 and 5, with the raised step 7 in minor
   (harmony primers, from memory). */
START_TEST(chord_primary_triads_in_all_keys)
{
    for (int tonic = 0; tonic < 12; tonic++) {
        struct us_key major = {(int8_t)tonic, US_MODE_MAJOR}, minor = {(int8_t)tonic, US_MODE_MINOR};
        static const int STEPS[US_ROLES] = {0, 1, 4, 5};
        for (int role = US_ROLE_I; role <= US_ROLE_V; role++) {
            us_pcset want_major = 0, want_minor = 0;
            for (int third = 0; third < 3; third++) {
                int step = (STEPS[role] - 1 + 2 * third) % 7 + 1;
                int in_minor = us_mode_step_semitones(US_MODE_MINOR, step) + (step == 7);
                want_major |=
                    (us_pcset)(1 << us_pitch_class(tonic + us_mode_step_semitones(US_MODE_MAJOR, step)));
                want_minor |= (us_pcset)(1 << us_pitch_class(tonic + in_minor));
            }
            struct us_chord a = us_chord_primary(major, (enum us_role)role);
            struct us_chord b = us_chord_primary(minor, (enum us_role)role);
            ck_assert_uint_eq(us_chord_tones(a), want_major);
            ck_assert_uint_eq(us_chord_tones(b), want_minor);
            ck_assert_int_eq(us_chord_role(a, major), role);
            ck_assert_int_eq(us_chord_role(b, minor), role);
        }
    }
}
END_TEST

/* No numeral of any chord in any key, and no step, keeps a plain letter for a sign of music. */
START_TEST(every_numeral_gets_its_signs)
{
    char plain[12], step[12], printed[40];
    for (int mode = 0; mode < US_MODES; mode++)
        for (int tonic = 0; tonic < US_PITCH_CLASSES; tonic++)
            for (int root = 0; root < US_PITCH_CLASSES; root++) {
                struct us_key key = {(int8_t)tonic, (uint8_t)mode};
                struct us_step at = us_key_step(key, root);
                const char *sign = at.alter < 0 ? "b" : at.alter > 0 ? "#" : "";
                snprintf(step, sizeof step, "%s%d", sign, at.number);
                ck_assert(!strpbrk(us_write_signs(step, printed, sizeof printed), "b#"));
                for (int kind = 0; kind < US_CHORD_KINDS; kind++) {
                    struct us_chord chord = {(int8_t)root, (uint8_t)kind};
                    us_chord_numeral(chord, key, plain, sizeof plain);
                    us_write_signs(plain, printed, sizeof printed);
                    ck_assert_msg(!strpbrk(printed, "b#o"), "%s: %s", plain, printed);
                }
            }
}
END_TEST

int main(void)
{
    const TTest *const TESTS[] = {chord_symbols, chord_words_are_no_chords, chord_numerals,
                                  chord_primary_triads_in_all_keys, every_numeral_gets_its_signs};
    return RUN_TESTS("chord", TESTS);
}
