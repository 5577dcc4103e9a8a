#include "support.h"

#include "undersong/transpose.h"

/* A keyboard that adds `semitones` to what it sounds: whichever octave the player finds, the answer is the
   same shift of pitch classes. */
START_TEST(transpose_by_ear)
{
    for (int adds = -11; adds <= 11; adds++)
        for (int octave = -1; octave <= 1; octave++) {
            int pressed = 60 - adds + 12 * octave, found;
            ck_assert(us_transpose_by_ear(60, pressed, &found));
            ck_assert(found >= -11 && found <= 11);
            ck_assert_int_eq(us_pitch_class(pressed + found), us_pitch_class(60));
            if (octave == 0) ck_assert_int_eq(found, adds);
        }
    int found;
    ck_assert(us_transpose_by_ear(60, 36, &found) && found == 0);
    ck_assert(!us_transpose_by_ear(-1, 60, &found) && !us_transpose_by_ear(60, 128, &found));
}
END_TEST

START_TEST(transpose_between_keys)
{
    for (int from = 0; from < 12; from++)
        for (int to = 0; to < 12; to++) {
            int shift =
                us_transpose_between((struct us_key){(int8_t)from, 0}, (struct us_key){(int8_t)to, 0});
            ck_assert(shift >= -5 && shift <= 6);
            ck_assert_int_eq(us_pitch_class(from + shift), to);
        }
}
END_TEST

int main(void)
{
    const TTest *const TESTS[] = {transpose_by_ear, transpose_between_keys};
    return RUN_TESTS("transpose", TESTS);
}
