#include "support.h"

#include "undersong/beat_clock.h"

static const struct us_metre FOUR_FOUR = {4, 4}, SIX_EIGHT = {6, 8};
#define MS INT64_C(1000000)

/* Lets time run to `until_ns` and counts the clocks. */
static int run(struct us_beat_clock *c, int64_t until_ns, uint8_t *other)
{
    int clocks = 0;
    uint8_t byte;
    *other = 0;
    while (us_beat_clock_due(c) <= until_ns) {
        int64_t due = us_beat_clock_due(c);
        while ((byte = us_beat_clock_next(c, due)))
            if (byte == 0xF8)
                clocks++;
            else
                *other = byte;
        ck_assert_int_gt(us_beat_clock_due(c), due);
    }
    return clocks;
}

/* MIDI 1.0, from memory: 24 clocks a quarter note; start comes before the first of them. */
START_TEST(steady_player)
{
    struct us_beat_clock c;
    uint8_t other;
    us_beat_clock_init(&c);
    ck_assert_int_eq(us_beat_clock_due(&c), INT64_MAX);
    us_beat_clock_beat(&c, 1000 * MS, FOUR_FOUR);
    ck_assert_int_eq(us_beat_clock_next(&c, 1000 * MS), 0xFA);
    ck_assert_int_eq(us_beat_clock_next(&c, 1000 * MS), 0xF8);
    ck_assert_int_eq(us_beat_clock_next(&c, 1000 * MS), 0);
    int clocks = 1 + run(&c, 1499 * MS, &other);
    for (int beat = 1; beat < 20; beat++) {
        us_beat_clock_beat(&c, (1000 + 500 * beat) * MS, FOUR_FOUR);
        int now = run(&c, (1499 + 500 * beat) * MS, &other);
        if (beat > 1) ck_assert_int_eq(now, 24);
        ck_assert_int_eq(other, 0);
        clocks += now;
    }
    ck_assert_int_eq(clocks, 20 * 24);
}
END_TEST

/* A player who hesitates is waited for; one who stops, stopped with; and a beat in 6/8 is a dotted quarter.
 */
START_TEST(hesitation_and_end)
{
    struct us_beat_clock c;
    uint8_t other;
    us_beat_clock_init(&c);
    us_beat_clock_beat(&c, 0, SIX_EIGHT);
    ck_assert_int_eq(run(&c, 499 * MS, &other), 30); /* the usual beat is 600 ms long: 5/6 of 36 */
    us_beat_clock_beat(&c, 500 * MS, SIX_EIGHT);
    ck_assert_int_eq(run(&c, 1400 * MS, &other), 42); /* the six owed and 36; then it waits */
    ck_assert_int_eq(other, 0);
    us_beat_clock_beat(&c, 1400 * MS, SIX_EIGHT);
    run(&c, 5000 * MS, &other);
    ck_assert_int_eq(other, 0xFC);
    ck_assert_int_eq(us_beat_clock_due(&c), INT64_MAX);
    us_beat_clock_beat(&c, 9000 * MS, SIX_EIGHT);
    ck_assert_int_eq(us_beat_clock_next(&c, 9000 * MS), 0xFA);
}
END_TEST

/* Beats much slower than the usual one: from the third on the clock runs through, whatever the metre. */
START_TEST(slow_player)
{
    static const struct {
        struct us_metre metre;
        int beat_ms, clocks;
    } ROWS[] = {{{4, 4}, 1500, 24}, {{6, 8}, 2400, 36}, {{2, 2}, 1300, 48}};
    for (size_t row = 0; row < sizeof ROWS / sizeof *ROWS; row++) {
        struct us_beat_clock c;
        uint8_t other;
        us_beat_clock_init(&c);
        for (int beat = 0; beat < 12; beat++) {
            int64_t at_ns = (5000 + ROWS[row].beat_ms * beat) * MS;
            us_beat_clock_beat(&c, at_ns, ROWS[row].metre);
            int clocks = run(&c, at_ns + (ROWS[row].beat_ms - 1) * MS, &other);
            if (beat < 3) continue;
            ck_assert_msg(other == 0, "row %zu, beat %d: %x", row, beat, other);
            ck_assert_int_eq(clocks, ROWS[row].clocks);
        }
    }
}
END_TEST

/* One long hesitation is no slow tempo: after it the clocks come as before. */
START_TEST(tempo_after_a_hesitation)
{
    struct us_beat_clock c;
    uint8_t other;
    us_beat_clock_init(&c);
    for (int beat = 0; beat < 4; beat++) {
        us_beat_clock_beat(&c, (1000 + 500 * beat) * MS, FOUR_FOUR);
        run(&c, (1499 + 500 * beat) * MS, &other);
    }
    run(&c, 4499 * MS, &other);
    ck_assert_int_eq(other, 0xFC);
    us_beat_clock_beat(&c, 4500 * MS, FOUR_FOUR);
    ck_assert_int_eq(run(&c, 4999 * MS, &other), 24);
    ck_assert_int_eq(other, 0xFA);
}
END_TEST

int main(void)
{
    const TTest *const TESTS[] = {steady_player, hesitation_and_end, slow_player, tempo_after_a_hesitation};
    return RUN_TESTS("beat_clock", TESTS);
}
