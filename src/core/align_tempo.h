/* The tempo around each note of an aligned performance. */
#ifndef ALIGN_TEMPO_H
#define ALIGN_TEMPO_H

#include "undersong/align.h"

/* Fills out[].quarter_ns: the median over the notes around in the same run, so that a pause does not count; 0
   where a run has no two notes of the tune. */
void align_tempo(const struct us_played *played, size_t count, const struct us_tune *tune,
                 struct us_aligned *out);

#endif
