/* The phrases of a tune: a line of the page each where it was written so, else where the harmony closes, else
   four bars.  Pure; any thread. */
#ifndef UNDERSONG_PHRASES_H
#define UNDERSONG_PHRASES_H

#include "undersong/harmony.h"

/* In quarters of the tune as it is played. */
struct us_phrase {
    double at, end;
};

/* The most that there can be. */
size_t us_phrases_most(const struct us_tune *tune, const struct us_harmony_view *view);
/* Where phrases start, in playing order, the tune's start first; returns how many.  `view` as
   us_harmony_tune() filled it.  A phrase of a tune with a pickup begins with its own where one is written. */
size_t us_phrase_starts(const struct us_tune *tune, const struct us_harmony_view *view, struct us_metre metre,
                        double pickup, double *out);
/* The phrases as they stand on the page: of what is repeated the first time through. */
size_t us_phrases_of_page(const struct us_tune *tune, const struct us_harmony_view *view,
                          struct us_metre metre, double pickup, struct us_phrase *out);

#endif
