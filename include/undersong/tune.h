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

/* A bar as it is played.  `written` numbers the bars on the page from 0, so a repeat plays the same number
   again; a bar cut short by a repeat sign is a bar of its own. */
struct us_bar {
    double at;
    double len;
    struct us_metre metre;
    struct us_key key;
    uint32_t written;
    uint16_t endings;     /* bit n: a bracket for the nth time starts here; 0 none */
    uint8_t repeat_times; /* a repeat sign ends this bar: how often the part is played in all; 0 none */
    bool repeat_from;     /* a repeated part starts here */
    bool closes;          /* a double bar line or the end of a bracket ends this bar */
};

/* Notes under one slur, from the first one's start to the last one's end; in a tune one after the other. */
struct us_slur {
    double at;
    double len;
};

struct us_tune {
    const struct us_note *notes; /* by time; one voice: the melody */
    size_t note_count;
    const struct us_chord_span *chords; /* the teacher's own, written in the tune; may be empty */
    size_t chord_count;
    struct us_key key;        /* US_NO_KEY where not written */
    struct us_metre metre;    /* top 0 where not written */
    double pickup;            /* quarters before the first bar line; negative where not known */
    double quarters_a_minute; /* 0 where not written */
    const char *title;    /* "" where none; one line of UTF-8 where it comes from a file, as the composer */
    const char *composer; /* "" or NULL where none */
    /* As written; each may be empty (0 and NULL). */
    const int8_t *spelling; /* for each note its place on the line of fifths: F -1, C 0, G 1, B-flat -2 */
    const struct us_note *second; /* a second voice below or above, by time */
    size_t second_count;
    const struct us_bar *bars; /* in playing order, repeats played out */
    size_t bar_count;
    const struct us_slur *slurs;
    size_t slur_count;
    const double *lines; /* where each line of the page starts: as a rule a phrase a line */
    size_t line_count;
};

/* The first note that ends after `at` quarters; note_count where none does.  Pure. */
size_t us_tune_note_after(const struct us_tune *tune, double at);
/* The pitch of the melody at that time, or -1 in a rest. */
int us_tune_pitch_at(const struct us_tune *tune, double at);

/* The chord of the first span that lasts at `at` quarters; US_NO_CHORD in none.  Pure. */
struct us_chord us_chord_at(const struct us_chord_span *spans, size_t count, double at);

/* How many bars stand on the page; 0 where the tune knows of none. */
size_t us_tune_written_bars(const struct us_tune *tune);
/* Whether a bar, as it is played, has a number of its own on the page: a pickup has not, nor the second half
   of a bar that a repeat sign divides. */
bool us_tune_bar_counts(const struct us_tune *tune, size_t bar);
/* The printed number of a bar as it is played: a repeat has the same ones again, a pickup is 0, the second
   half of a divided bar has the first one's. */
int32_t us_tune_bar_number(const struct us_tune *tune, size_t bar);

#endif
