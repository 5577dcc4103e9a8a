/* A gentle limiter for ears and converters.  Pure, fixed size, no allocation; any one thread.

   Below `US_LIMITER_KNEE` nothing happens.  A peak above it turns the gain down within about 2 ms, so that
   the envelope stays at the knee, and lets it rise again over about 300 ms; what is left above the knee
   during the first 2 ms is bent towards, and never reaches, 1.0.  Both channels share one gain. */
#ifndef UNDERSONG_LIMITER_H
#define UNDERSONG_LIMITER_H

#include <stdint.h>

#define US_LIMITER_KNEE 0.7f

struct us_limiter {
    float gain;
    float fall, rise; /* shares of the way to go, a frame */
};

/* Full gain; `rate_hz` is frames a second. */
void us_limiter_init(struct us_limiter *limiter, double rate_hz);
/* Turns one stereo frame down where it would be too loud. */
void us_limiter_frame(struct us_limiter *limiter, float *left, float *right);

#endif
