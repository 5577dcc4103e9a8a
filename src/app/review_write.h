/* The forms in which a review is written. */
#ifndef APP_REVIEW_WRITE_H
#define APP_REVIEW_WRITE_H

#include <stdio.h>

#include "undersong/review.h"

void write_review_text(const struct us_review *review, FILE *out);
/* The same without what to practise next. */
void write_review_story(const struct us_review *review, FILE *out);
/* Its first words: how much was played, in which keys, and what went well; one line without its end. */
void write_review_kindly(const struct us_review *review, FILE *out);
void write_review_json(const struct us_review *review, FILE *out);

#endif
