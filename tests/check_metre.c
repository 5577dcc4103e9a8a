#include "support.h"

#include "undersong/metre.h"

/* A beat of compound time is three eighths (common practice, no source). */
START_TEST(metre_lengths)
{
    static const struct {
        const char *name;
        double bar, beat, half;
        int beats;
    } ROWS[] = {
        {"4/4", 4, 1, 2, 4},     {"3/4", 3, 1, 3, 3},       {"2/4", 2, 1, 1, 2},
        {"6/8", 3, 1.5, 1.5, 2}, {"9/8", 4.5, 1.5, 4.5, 3}, {"12/8", 6, 1.5, 3, 4},
        {"2/2", 4, 2, 2, 2},     {"3/8", 1.5, 0.5, 1.5, 3}, {"6/4", 6, 1, 3, 6},
    };
    for (size_t i = 0; i < sizeof ROWS / sizeof *ROWS; i++) {
        struct us_metre metre;
        ck_assert(us_metre_parse(ROWS[i].name, &metre));
        ck_assert_double_eq(us_metre_bar_quarters(metre), ROWS[i].bar);
        ck_assert_double_eq(us_metre_beat_quarters(metre), ROWS[i].beat);
        ck_assert_double_eq(us_metre_half_quarters(metre), ROWS[i].half);
        ck_assert_int_eq(us_metre_beats(metre), ROWS[i].beats);
        ck_assert_int_eq(us_metre_is_compound(metre), ROWS[i].beats * 3 == metre.top);
        ck_assert_double_eq(us_metre_next_beat(metre, 0), ROWS[i].beat);
        ck_assert_double_eq(us_metre_next_beat(metre, 0.9 * ROWS[i].beat), ROWS[i].beat);
        ck_assert_double_eq(us_metre_next_beat(metre, 0.995 * ROWS[i].beat), 2 * ROWS[i].beat);
        char name[8];
        ck_assert_str_eq(us_metre_name(metre, name, sizeof name), ROWS[i].name);
    }
}
END_TEST

/* abc 2.1, section 3.1.6: C is 4/4 and C| is 2/2. */
START_TEST(metre_common_time)
{
    struct us_metre metre;
    ck_assert(us_metre_parse("C", &metre) && metre.top == 4 && metre.bottom == 4);
    ck_assert(us_metre_parse("C|", &metre) && metre.top == 2 && metre.bottom == 2);
}
END_TEST

START_TEST(metre_refuses)
{
    static const char *const BAD[] = {"",     "3",    "3/",   "/4",   "0/4",  "3/5",
                                      "33/4", "3/64", "3/4x", "-3/4", "three"};
    struct us_metre metre;
    for (size_t i = 0; i < sizeof BAD / sizeof *BAD; i++)
        ck_assert_msg(!us_metre_parse(BAD[i], &metre), "%s", BAD[i]);
}
END_TEST

int main(void)
{
    const TTest *const TESTS[] = {metre_lengths, metre_common_time, metre_refuses};
    return RUN_TESTS("metre", TESTS);
}
