#include "undersong/frame_clock.h"

#include <math.h>

#define FAST_HZ 4.0 /* the loop's bandwidth at first, and when settled */
#define SLOW_HZ 0.2
#define SETTLING_NS 2e9
#define ASTRAY_NS 2e6
enum { ASTRAY_MAX = 8 };

void us_frame_clock_init(struct us_frame_clock *clock, double rate_hz)
{
    *clock = (struct us_frame_clock){.nominal_ns = 1e9 / rate_hz, .ns_a_frame = 1e9 / rate_hz};
}

static void jump(struct us_frame_clock *clock, int64_t now_ns, int64_t end_frame)
{
    clock->frame = end_frame;
    clock->at_ns = (double)now_ns;
    clock->ns_a_frame = clock->nominal_ns;
    clock->settled_ns = 0;
    clock->astray = 0;
    clock->running = true;
}

void us_frame_clock_update(struct us_frame_clock *clock, int64_t now_ns, int64_t end_frame)
{
    double frames = (double)(end_frame - clock->frame);
    if (!clock->running || frames <= 0) {
        jump(clock, now_ns, end_frame);
        return;
    }
    double expected_ns = clock->at_ns + frames * clock->ns_a_frame, error_ns = (double)now_ns - expected_ns;
    clock->astray = fabs(error_ns) > ASTRAY_NS ? clock->astray + 1 : 0;
    if (clock->astray >= ASTRAY_MAX) {
        jump(clock, now_ns, end_frame);
        return;
    }
    double share = fmin(clock->settled_ns / SETTLING_NS, 1);
    double bandwidth_hz = FAST_HZ + (SLOW_HZ - FAST_HZ) * share;
    double omega = fmin(2 * 3.14159265358979 * bandwidth_hz * frames * clock->nominal_ns * 1e-9, 0.5);
    clock->frame = end_frame;
    clock->at_ns = expected_ns + sqrt(2) * omega * error_ns;
    clock->ns_a_frame += omega * omega * error_ns / frames;
    clock->ns_a_frame = fmin(fmax(clock->ns_a_frame, clock->nominal_ns * 0.99), clock->nominal_ns * 1.01);
    clock->settled_ns += frames * clock->nominal_ns;
}
