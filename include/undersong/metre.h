/* Metres.  Lengths are in quarter notes.  Pure; any thread. */
#ifndef UNDERSONG_METRE_H
#define UNDERSONG_METRE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* `top` 0 means unknown. */
struct us_metre {
    uint8_t top;
    uint8_t bottom;
};

/* "3/4", "6/8", "C" (4/4), "C|" (2/2).  Top 1 to 32, bottom 1 2 4 8 16 32.  False for anything else. */
bool us_metre_parse(const char *text, struct us_metre *metre);
/* "3/4".  Writes at most `size` bytes, always terminated; returns `out`. */
char *us_metre_name(struct us_metre metre, char *out, size_t size);
/* Same top and bottom. */
bool us_metre_equal(struct us_metre a, struct us_metre b);
/* Whether three of the bottom's notes are felt as a beat: 6/8, 9/8, 12/8 and on. */
bool us_metre_is_compound(struct us_metre metre);
/* How long a bar is, and a beat, in quarters; of an unknown metre a bar of four and a beat of one, where
   bottom is 0 too. */
double us_metre_bar_quarters(struct us_metre metre);
/* The felt beat: a dotted quarter in compound metres, else the bottom's note. */
double us_metre_beat_quarters(struct us_metre metre);
/* Where the next beat is, from the bar line as `bar_quarters` is; a place just before a beat is on it. */
double us_metre_next_beat(struct us_metre metre, double bar_quarters);
/* Felt beats in a bar: two in 6/8; 0 where the metre is unknown. */
int us_metre_beats(struct us_metre metre);
/* Half a bar where the metre halves (4/4 2/2 6/8 12/8 6/4 2/4), else the whole bar. */
double us_metre_half_quarters(struct us_metre metre);

#endif
