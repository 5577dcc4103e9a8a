/* A tune as it is written: notes, chords and what the head of the page says.  A view on arrays that somebody
   else owns; core reads it, io makes it.  Times and lengths are in quarter notes from the start of the file.
 */
#ifndef UNDERSONG_TUNE_H
#define UNDERSONG_TUNE_H

#include "undersong/chord.h"
#include "undersong/metre.h"

struct us_note {
    double at;
    double len;
    int16_t pitch;
    int16_t velocity; /* 1 to 127 */
};

/* A chord from `at` for `len`. */
struct us_chord_span {
    double at;
    double len;
    struct us_chord chord;
};

struct us_tune {
    const struct us_note *notes; /* by time; one voice: the melody */
    size_t note_count;
    const struct us_chord_span *chords; /* the teacher's own, written in the tune; may be empty */
    size_t chord_count;
    struct us_key key;        /* US_NO_KEY where not written */
    struct us_metre metre;    /* top 0 where not written */
    double pickup;            /* quarters before the first bar line */
    double quarters_a_minute; /* 0 where not written */
    const char *title;        /* "" where none */
};

#endif
