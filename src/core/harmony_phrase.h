/* Phrases: where they end, and which beats are a strain come back. */
#ifndef UNDERSONG_HARMONY_PHRASE_H
#define UNDERSONG_HARMONY_PHRASE_H

#include "harmony_internal.h"

/* Marks phrase ends and `same_as` in views whose time, position and key are filled in. */
void us_phrases_find(const struct us_tune *tune, const struct us_grid *grid, const uint32_t *codes,
                     struct us_beat_view *views);
/* What a beat sounds like, for comparing beats: the same for the same steps in the same rhythm. */
uint32_t us_beat_code(const float *frame);

#endif
