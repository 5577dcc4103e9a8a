#include "undersong/frame_clock.h"

#include <math.h>

#define FAST_HZ 4.0 /* the loop's bandwidth at first, and when settled */
#define SLOW_HZ 0.2
#define SETTLING_NS 2e9
/* So far off, beyond what wake-ups usually are, is no jitter; so often in a row, and time has moved on. */
#define ASTRAY_LEAST_NS 3e5
#define ASTRAY_JITTERS 4.0
#define JITTER_RATE 0.02
enum { ASTRAY_MAX = 6 };

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

/* Whether wake-ups keep being off to one side, as after an underflow, when a server's time goes on from
   another place: then by how much, at least. */
static bool has_moved(struct us_frame_clock *clock, double error_ns, double far_ns)
{
    bool astray = fabs(error_ns) > far_ns;
    if (!astray || clock->astray == 0 || (error_ns > 0) != (clock->astray_ns > 0)) {
        clock->astray = astray;
        clock->astray_ns = error_ns;
        return false;
    }
    if (fabs(error_ns) < fabs(clock->astray_ns)) clock->astray_ns = error_ns;
    return ++clock->astray >= ASTRAY_MAX;
}

void us_frame_clock_update(struct us_frame_clock *clock, int64_t now_ns, int64_t end_frame)
{
    double frames = (double)(end_frame - clock->frame);
    if (!clock->running || frames <= 0) {
        jump(clock, now_ns, end_frame);
        return;
    }
    double expected_ns = clock->at_ns + frames * clock->ns_a_frame, error_ns = (double)now_ns - expected_ns;
    double far_ns = fmax(ASTRAY_LEAST_NS, ASTRAY_JITTERS * clock->jitter_ns);
    clock->frame = end_frame;
    clock->at_ns = expected_ns;
    if (has_moved(clock, error_ns, far_ns)) {
        clock->at_ns += clock->astray_ns;
        clock->astray = 0;
        return;
    }
    error_ns = fmin(fmax(error_ns, -far_ns), far_ns);
    clock->jitter_ns += JITTER_RATE * (fabs(error_ns) - clock->jitter_ns);
    double share = fmin(clock->settled_ns / SETTLING_NS, 1);
    double bandwidth_hz = FAST_HZ + (SLOW_HZ - FAST_HZ) * share;
    double omega = fmin(2 * 3.14159265358979 * bandwidth_hz * frames * clock->nominal_ns * 1e-9, 0.5);
    clock->at_ns += sqrt(2) * omega * error_ns;
    clock->ns_a_frame += omega * omega * error_ns / frames;
    clock->ns_a_frame = fmin(fmax(clock->ns_a_frame, clock->nominal_ns * 0.99), clock->nominal_ns * 1.01);
    clock->settled_ns += frames * clock->nominal_ns;
}
