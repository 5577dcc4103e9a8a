/* The review as a picture: each time through the tune on a line of its own, bar by bar.  Not for the realtime
   thread. */
#ifndef UNDERSONG_REVIEW_PICTURE_H
#define UNDERSONG_REVIEW_PICTURE_H

#include "undersong/review.h"

/* At most so many times through are drawn, the last ones. */
enum { US_REVIEW_LANES = 24 };

/* Writes an SVG, or with `png` a PNG, to `path`.  A review without a tune or without one time through it is
   US_STATUS_BAD_INPUT; US_STATUS_IO where it cannot be written. */
enum us_status us_review_picture(const struct us_review *review, const char *path, bool png,
                                 struct us_error *error) US_WARN_UNUSED;

/* The same on any surface, at the context's origin, `width` units wide, for light or dark surroundings;
   without what to practise next, which these say. */
struct _cairo; /* a cairo_t */
void us_review_draw(const struct us_review *review, struct _cairo *cr, double width, bool dark);
/* Its height as a part of its width; 0 where there is nothing to draw. */
double us_review_height(const struct us_review *review);

#endif
