/* Chords that the user settles before the rest is worked out: --choose and --simplify. */
#ifndef APP_CHOICES_H
#define APP_CHOICES_H

#include "harmonized.h"

/* The tune's written chords as primary triads; those outside the substitution table are left to the model. */
enum us_status fix_simplified(struct harmonized *h, struct us_error *error) US_WARN_UNUSED;
/* BAR.BEAT=CHORD, bar 1 the first full one and 0 the pickup: for the rest of the chord that was there, at
   most to the bar line. */
enum us_status fix_chosen(struct harmonized *h, struct us_error *error) US_WARN_UNUSED;

#endif
