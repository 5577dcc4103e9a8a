#include "support.h"

#include "undersong/gaps.h"

/* Each row: at which seconds a look finds three more underflows, and the second at which it is told. */
START_TEST(gaps_are_told_once_and_not_for_nothing)
{
    static const struct {
        int at[8];
        int told;
    } ROWS[] = {
        {{0}, 0},
        {{1, 2, 2, 2}, 0},             /* at the beginning */
        {{5, 9}, 0},                   /* two */
        {{5, 9, 12, 13, 14}, 12},      /* the third */
        {{5, 30, 55, 80, 105}, 0},     /* now and then */
        {{5, 30, 35, 40, 41, 42}, 40}, /* a window begins with its first */
        {{1, 2, 4, 5, 6, 30, 31, 32}, 6},
    };
    for (size_t r = 0; r < sizeof ROWS / sizeof *ROWS; r++) {
        struct us_gaps gaps = {0};
        uint32_t underflows = 7;
        int told = 0;
        us_gaps_begin(&gaps, underflows, 0);
        for (int64_t look = 1; look < 50 * 120; look++) {
            int64_t now_ns = look * 20000000;
            for (int i = 0; i < 8; i++)
                if (ROWS[r].at[i] && now_ns == ROWS[r].at[i] * INT64_C(1000000000)) underflows += 3;
            if (!us_gaps_tell(&gaps, underflows, now_ns)) continue;
            ck_assert_msg(!told, "row %zu: told twice", r);
            told = (int)(now_ns / 1000000000);
        }
        ck_assert_msg(told == ROWS[r].told, "row %zu: told at %d", r, told);
    }
}
END_TEST

/* Another stream has a beginning of its own; what was told stays told. */
START_TEST(another_stream_begins_anew)
{
    struct us_gaps gaps = {0};
    us_gaps_begin(&gaps, 0, 0);
    for (uint32_t i = 1; i < 3; i++)
        ck_assert(!us_gaps_tell(&gaps, i, 5000000000 + i));
    us_gaps_begin(&gaps, 2, 6000000000);
    ck_assert(!us_gaps_tell(&gaps, 3, 7000000000));
    for (uint32_t i = 4; i < 6; i++)
        ck_assert(!us_gaps_tell(&gaps, i, 9500000000 + i));
    ck_assert(us_gaps_tell(&gaps, 6, 9600000000));
    us_gaps_begin(&gaps, 6, 10000000000);
    for (uint32_t i = 7; i < 20; i++)
        ck_assert(!us_gaps_tell(&gaps, i, 20000000000 + i));
}
END_TEST

int main(void)
{
    const TTest *const TESTS[] = {gaps_are_told_once_and_not_for_nothing, another_stream_begins_anew};
    return RUN_TESTS("gaps", TESTS);
}
