#include "support.h"

#include "undersong/clock.h"
#include "undersong/frame_clock.h"

#include <math.h>
#include <stdlib.h>
#include <time.h>

static double uniform(uint32_t *random)
{
    *random = *random * 1664525 + 1013904223;
    return *random / 4294967296.0;
}

/* How far the clock's idea of a moment strays over ten seconds, after three to settle. */
static double spread_ms(int frames, int frames_other, double rate_error, double jitter_ms)
{
    struct us_frame_clock c;
    us_frame_clock_init(&c, 48000);
    uint32_t random = 1;
    double ns_a_frame = 1e9 / 48000 * (1 + rate_error), low = 1e9, high = -1e9;
    int64_t end = 0;
    for (int i = 0; (double)end * ns_a_frame < 13e9; i++) {
        end += i % 3 ? frames : frames_other;
        double true_ns = (double)end * ns_a_frame;
        us_frame_clock_update(&c, (int64_t)(true_ns + uniform(&random) * jitter_ms * 1e6), end);
        double off = c.at_ns + (double)(end - c.frame) * c.ns_a_frame - true_ns;
        if (true_ns < 3e9) continue;
        low = fmin(low, off);
        high = fmax(high, off);
    }
    return (high - low) * 1e-6;
}

START_TEST(jitter_is_smoothed)
{
    static const struct {
        int frames, other;
        double rate_error, jitter_ms, most_ms;
    } ROWS[] = {
        {256, 256, 0, 0, 0.001},      {256, 256, 0, 1, 0.2},    {256, 256, 2e-4, 1, 0.25},
        {128, 128, -2e-4, 0.5, 0.15}, {960, 480, 1e-4, 2, 0.5}, {1024, 1024, 0, 1.5, 0.5},
    };
    for (size_t i = 0; i < sizeof ROWS / sizeof *ROWS; i++) {
        double spread = spread_ms(ROWS[i].frames, ROWS[i].other, ROWS[i].rate_error, ROWS[i].jitter_ms);
        ck_assert_msg(spread <= ROWS[i].most_ms, "row %zu: %.3f ms", i, spread);
    }
}
END_TEST

/* The server stood still, for half a second or for less than a buffer: the clock is right again within six
   buffers, with clean wake-ups and with late ones. */
START_TEST(moves_after_a_gap)
{
    static const double GAPS_NS[] = {5e8, 4e6, 2.667e6, 1.2e6, 0.6e6, -1.5e6};
    for (size_t g = 0; g < sizeof GAPS_NS / sizeof *GAPS_NS; g++)
        for (int jitter_us = 0; jitter_us <= 100; jitter_us += 100) {
            struct us_frame_clock c;
            us_frame_clock_init(&c, 48000);
            uint32_t random = 1;
            double ns = 0;
            for (int i = 1; i < 2000; i++) {
                if (i == 1000) ns += GAPS_NS[g];
                ns += 256e9 / 48000;
                us_frame_clock_update(&c, (int64_t)(ns + uniform(&random) * jitter_us * 1e3), 256 * i);
                if (i > 1005)
                    ck_assert_msg(fabs(c.at_ns - ns) < 1.5e5, "gap %zu, buffer %d: %.3f ms", g, i,
                                  (c.at_ns - ns) * 1e-6);
            }
        }
}
END_TEST

/* One late wake-up is no reason to move. */
START_TEST(one_late_wake_up_is_ignored)
{
    struct us_frame_clock c;
    us_frame_clock_init(&c, 48000);
    for (int i = 1; i < 2000; i++)
        us_frame_clock_update(&c, (int64_t)(i * (256e9 / 48000)), 256 * i);
    us_frame_clock_update(&c, (int64_t)(2000 * (256e9 / 48000) + 10e6), 256 * 2000);
    ck_assert(fabs(c.at_ns - 2000 * (256e9 / 48000)) < 0.2e6);
}
END_TEST

static int64_t monotonic_ns(void)
{
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return now.tv_sec * INT64_C(1000000000) + now.tv_nsec;
}

/* Nanoseconds of the clock that never runs back. */
START_TEST(the_clock_runs_on)
{
    int64_t first = us_clock_ns(), now = first;
    for (int i = 0; i < 100000; i++) {
        int64_t before = monotonic_ns();
        ck_assert_int_le(now, before);
        now = us_clock_ns();
        ck_assert_int_ge(now, before);
    }
    ck_assert_int_le(now, monotonic_ns());
    ck_assert_int_gt(now, first);
}
END_TEST

int main(void)
{
    const TTest *const TESTS[] = {jitter_is_smoothed, moves_after_a_gap, one_late_wake_up_is_ignored,
                                  the_clock_runs_on};
    return RUN_TESTS("frame_clock", TESTS);
}
