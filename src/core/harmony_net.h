/* The networks at work: convolutions over beats with quantized weights. */
#ifndef UNDERSONG_HARMONY_NET_H
#define UNDERSONG_HARMONY_NET_H

#include "undersong/harmony.h"

/* Whole tune: adds the outputs for `count` frames to `out` (count * US_NET_OUT).  `scratch` holds
   2 * count * US_NET_HIDDEN numbers. */
void us_net_whole(const struct us_harmony_net *net, const float *frames, size_t count, float *scratch,
                  float *out);

/* The outputs that tell of roles, without those of chords. */
enum { US_NET_ROLES_OUT = US_OUT_CLASS };

/* Live: beat number `beat` since the run began, with the frames of the last US_NET_TAPS beats (NULL before
   the first one), the newest last.  Adds the first `outs` outputs to `out`: US_NET_OUT, US_NET_ROLES_OUT, or
   0 where the beat is only to be remembered. */
void us_net_live(const struct us_harmony_net *net, struct us_net_memory *memory, uint32_t beat,
                 const float *const frames[US_NET_TAPS], int outs, float *out);

/* The part of us_net_live() for beat number `beat` that the beats before it give, worked out beforehand; the
   answer is the same with it and without.  It goes stale, and must be undone with `memory->prepared = 0`,
   when beats are heard again. */
void us_net_prepare(const struct us_harmony_net *net, struct us_net_memory *memory, uint32_t beat,
                    const float *const frames[US_NET_TAPS]);

/* Listening along: `s->frames` frames have come, the newest just now.  One position in each layer; true where
   the outputs of roles for the next beat, with US_NET_DEEP layers the 31st before the newest, were added to
   `out`. */
bool us_net_stream(const struct us_harmony_net *net, struct us_hindsight *s, float out[US_NET_ROLES_OUT]);

/* Probabilities from `count` numbers, in place. */
void us_softmax(float *x, int count);

#endif
