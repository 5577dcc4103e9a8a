/* The forms in which a review is written. */
#ifndef APP_REVIEW_WRITE_H
#define APP_REVIEW_WRITE_H

#include <stdio.h>

#include "undersong/review.h"

void write_review_text(const struct us_review *review, FILE *out);
void write_review_json(const struct us_review *review, FILE *out);

#endif
