#include "undersong/beat_clock.h"

#include <math.h>

enum { STOP_AFTER_BEATS = 2 };
#define USUAL_BEAT_NS 600000000
#define SHORTEST_BEAT_NS 100000000
#define LONGEST_BEAT_NS INT64_C(4000000000)

void us_beat_clock_init(struct us_beat_clock *clock)
{
    *clock = (struct us_beat_clock){.length_ns = USUAL_BEAT_NS};
}

/* One beat that is much longer is a hesitation; a second one like it, the player's tempo. */
static void hear_length(struct us_beat_clock *clock, int64_t length_ns)
{
    if (length_ns <= SHORTEST_BEAT_NS) return;
    bool usual = length_ns < STOP_AFTER_BEATS * clock->length_ns;
    bool again = 2 * length_ns < 3 * clock->slow_ns && 3 * length_ns > 2 * clock->slow_ns;
    if ((clock->running && usual) || again) clock->length_ns = length_ns;
    clock->slow_ns = usual || length_ns > LONGEST_BEAT_NS ? 0 : length_ns;
}

void us_beat_clock_beat(struct us_beat_clock *clock, int64_t at_ns, struct us_metre metre)
{
    double quarters = metre.top ? us_metre_beat_quarters(metre) : 1;
    hear_length(clock, at_ns - clock->beat_ns);
    clock->left = (clock->running ? clock->left : 0);
    clock->start = clock->start || !clock->running;
    clock->beat_clocks = (int32_t)lround(quarters * US_CLOCKS_A_QUARTER);
    clock->left += clock->beat_clocks;
    clock->running = true;
    clock->beat_ns = at_ns;
    clock->next_ns = at_ns;
}

uint8_t us_beat_clock_next(struct us_beat_clock *clock, int64_t now_ns)
{
    if (!clock->running) return 0;
    if (clock->start) {
        clock->start = false;
        return 0xFA;
    }
    if (!clock->left && now_ns - clock->beat_ns >= STOP_AFTER_BEATS * clock->length_ns) {
        clock->running = false;
        return 0xFC;
    }
    if (!clock->left || now_ns < clock->next_ns) return 0;
    clock->left--;
    int32_t sent = clock->beat_clocks - clock->left;
    clock->next_ns =
        sent < 0 ? clock->beat_ns : clock->beat_ns + clock->length_ns * sent / clock->beat_clocks;
    return 0xF8;
}

int64_t us_beat_clock_due(const struct us_beat_clock *clock)
{
    if (!clock->running) return INT64_MAX;
    if (clock->start) return clock->beat_ns;
    return clock->left ? clock->next_ns : clock->beat_ns + STOP_AFTER_BEATS * clock->length_ns;
}
