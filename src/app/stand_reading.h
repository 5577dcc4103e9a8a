/* What the review page of the window shows: the sessions of the evening, read and put into words. */
#ifndef APP_STAND_READING_H
#define APP_STAND_READING_H

#include <cairo.h>
#include <stdbool.h>

struct stand_reading;

/* Reads what was kept lately, against the tune in the file `tune` (NULL: unknown).  Takes its time, on any
   thread; never NULL but without memory. */
struct stand_reading *stand_reading_make(const char *tune);
void stand_reading_free(void *reading); /* accepts NULL */

/* One paragraph with what went well, what to do next, and the whole story with its tables; none is NULL. */
const char *stand_reading_heading(const struct stand_reading *r);
const char *stand_reading_advice(const struct stand_reading *r);
/* The first bar that the advice is about, as printed; 0: it is about none. */
int stand_reading_bar(const struct stand_reading *r);
const char *stand_reading_story(const struct stand_reading *r);
/* The picture: height as a part of the width, 0 where there is none. */
double stand_reading_height(const struct stand_reading *r);
void stand_reading_draw(const struct stand_reading *r, cairo_t *cr, double width, bool dark);

#endif
