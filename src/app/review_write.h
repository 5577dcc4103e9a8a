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
/* Bar by bar, what was wrong, left out or waited for; a part of the story. */
void write_review_stumbles(const struct us_review *review, FILE *out);
/* "once", "twice", "3 times"; "bar 3" or "pickup" for a bar by its index.  Both return words that last as
   long as `out`. */
const char *review_times(uint32_t count, char out[24]);
const char *review_bar_name(const struct us_review *review, uint32_t bar, char out[32]);
void write_review_json(const struct us_review *review, FILE *out);

#endif
