/* Hindsight: the networks for whole tunes listen along, some forty beats behind, and judge each beat again in
   the light of what came after it, for the next time it comes.  One position a layer and beat. */
#ifndef UNDERSONG_HARMONY_HINDSIGHT_H
#define UNDERSONG_HARMONY_HINDSIGHT_H

#include "undersong/harmony.h"

/* Nothing heard so far can be used further on, as after a change of key. */
void us_hindsight_start(struct us_hindsight *s);
/* Room for the next beat's frame, which waits for its step once it is filled. */
float *us_hindsight_frame(struct us_hindsight *s);
/* Hears the oldest frame that waits.  True where `role` has become known for the beat `*back` beats before
   the newest frame. */
bool us_hindsight_step(struct us_hindsight *s, const struct us_harmony_net *net, float role[3],
                       uint32_t *back);
/* No more beats follow those heard so far.  One step towards what there is to say of the last ones: false
   where all is said; with `*told` the role of the beat `*back` before the last is in `role`.  Then start
   anew. */
bool us_hindsight_finish(struct us_hindsight *s, const struct us_harmony_net *net, float role[3],
                         uint32_t *back, bool *told);

#endif
