#include "support.h"

#include "undersong/pitch.h"

/* MIDI 1.0: note 60 is middle C; General MIDI's percussion map starts on 35, B1 (from memory). */
START_TEST(pitch_names)
{
    static const struct {
        int pitch;
        bool flats;
        const char *name;
    } ROWS[] = {
        {60, false, "C4"},  {61, false, "C#4"}, {61, true, "Db4"},  {69, false, "A4"}, {21, false, "A0"},
        {108, false, "C8"}, {0, false, "C-1"},  {127, false, "G9"}, {35, true, "B1"},
    };
    char name[8];
    for (size_t i = 0; i < sizeof ROWS / sizeof *ROWS; i++)
        ck_assert_str_eq(us_pitch_name(ROWS[i].pitch, ROWS[i].flats, name, sizeof name), ROWS[i].name);
}
END_TEST

START_TEST(pitch_class_wraps)
{
    ck_assert_int_eq(us_pitch_class(-1), 11);
    ck_assert_int_eq(us_pitch_class(-12), 0);
    ck_assert_int_eq(us_pitch_class(127), 7);
}
END_TEST

START_TEST(pcset_moves)
{
    us_pcset c_major = 1 << 0 | 1 << 4 | 1 << 7;
    ck_assert_uint_eq(us_pcset_transpose(c_major, 7), 1 << 7 | 1 << 11 | 1 << 2);
    ck_assert_uint_eq(us_pcset_transpose(c_major, -5), us_pcset_transpose(c_major, 7));
    ck_assert_uint_eq(us_pcset_transpose(c_major, 12), c_major);
    ck_assert(us_pcset_has(c_major, 64) && !us_pcset_has(c_major, 65));
}
END_TEST

int main(void)
{
    const TTest *const TESTS[] = {pitch_names, pitch_class_wraps, pcset_moves};
    return RUN_TESTS("pitch", TESTS);
}
