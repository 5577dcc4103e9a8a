/* Places between beats, as a teacher says and writes them. */
#ifndef APP_BEAT_NAME_H
#define APP_BEAT_NAME_H

#include <stdbool.h>

enum { BEAT_NAME = 32 };

/* `beat` counts from 1; 2.5 is half a beat after the second.  "beat 2", "beat 2, second half", "beat 2, just
 * after". */
const char *beat_name(double beat, char out[BEAT_NAME]);
/* For a column of figures, `width` letters (at most 8) and set to the right: 2, 2½, 2⅔; what has no such sign
   is written with a point, to two places. */
const char *beat_figure(double beat, int width, char out[BEAT_NAME]);
/* Reads what beat_figure() writes, and 2.5; false where it is neither. */
bool beat_read(const char *text, const char **after, double *beat);

#endif
