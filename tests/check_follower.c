#include "support.h"

#include "undersong/follower_state.h"

#include <string.h>

static struct us_follower follower;
static struct us_felt felt;

static struct us_follower_settings known(uint8_t top, uint8_t bottom, double pickup)
{
    return (struct us_follower_settings){.metre = {top, bottom}, .pickup = pickup};
}

/* Plays a note and says what was felt; ticks come when they are due. */
static struct us_felt play(double at_s, double held_s, int pitch)
{
    struct us_felt answer;
    int64_t at_ns = (int64_t)(at_s * 1e9);
    while (us_follower_tick(&follower, at_ns, &felt))
        ck_assert_int_le(felt.at_ns, at_ns);
    us_follower_onset(&follower, at_ns, pitch, 80, &answer);
    int64_t off_ns = at_ns + (int64_t)(held_s * 1e9);
    while (us_follower_tick(&follower, off_ns, &felt))
        ck_assert_int_ge(felt.at_ns, at_ns);
    us_follower_note_off(&follower, off_ns, pitch);
    return answer;
}

/* Even scales: after two bars every bar line is felt, and only bar lines, at any tempo in any metre. */
START_TEST(steady_scales)
{
    static const struct {
        uint8_t top, bottom;
        double pickup, step; /* quarters */
    } ROWS[] = {{4, 4, 0, 1},     {4, 4, 1, 1},   {3, 4, 1, 1},  {2, 4, 0, 0.5},
                {6, 8, 0.5, 0.5}, {6, 8, 0, 0.5}, {9, 8, 0, 0.5}};
    for (size_t i = 0; i < sizeof ROWS / sizeof *ROWS; i++) {
        for (double tempo = 70; tempo <= 125; tempo += 11) {
            struct us_follower_settings settings = known(ROWS[i].top, ROWS[i].bottom, ROWS[i].pickup);
            settings.quarters_a_minute = 1.1 * tempo; /* even notes alone do not tell quarters from eighths */
            us_follower_init(&follower, &settings);
            double bar = us_metre_bar_quarters(settings.metre);
            for (int k = 0; k < 64; k++) {
                double quarters = k * ROWS[i].step, step_s = ROWS[i].step * 60 / tempo;
                struct us_felt f = play(1 + k * step_s, step_s * 0.85, 60 + k % 8);
                double place = (quarters - ROWS[i].pickup) / bar;
                bool line = place - (double)(int64_t)place < 1e-6;
                if (place >= 2) ck_assert_int_eq(f.on_bar, line);
            }
        }
    }
}
END_TEST

int main(void)
{
    const TTest *const TESTS[] = {steady_scales};
    return RUN_TESTS("follower", TESTS);
}
