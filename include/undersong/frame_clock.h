/* Which frame belongs to which moment: the callback's wake-ups, smoothed, so that a note is heard a fixed
   time after it was played and not at the next buffer's edge.  A second-order delay-locked loop (Adriaensen,
   "Using a DLL to filter time", Linux Audio Conference 2005).  Pure, fixed size; the audio callback's. */
#ifndef UNDERSONG_FRAME_CLOCK_H
#define UNDERSONG_FRAME_CLOCK_H

#include <stdbool.h>
#include <stdint.h>

struct us_frame_clock {
    double nominal_ns, ns_a_frame;
    int64_t frame;     /* the last buffer's end ... */
    double at_ns;      /* ... and the smoothed moment at which it was asked for */
    double settled_ns; /* how long the loop has run since it last jumped */
    double jitter_ns;  /* how far wake-ups usually are from what was expected */
    uint32_t astray;   /* wake-ups in a row that were far off to one side ... */
    double astray_ns;  /* ... by so much, at least */
    bool running;
};

/* `rate_hz`: frames a second, as the sound server says; runs from the first update on. */
void us_frame_clock_init(struct us_frame_clock *clock, double rate_hz);
/* At `now_ns` a buffer was asked for whose end is `end_frame`.  Buffers may differ in size.  After a gap (an
   underflow, a stopped server), however small, the clock moves to what it sees within six buffers. */
void us_frame_clock_update(struct us_frame_clock *clock, int64_t now_ns, int64_t end_frame);

#endif
