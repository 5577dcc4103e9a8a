/* A tune as it stands on the page, before its repeats are played out.  What the readers of tune files fill.
   Times are whole ticks, so that triplets and their like add up exactly. */
#ifndef WRITTEN_H
#define WRITTEN_H

#include <stdio.h>

#include "undersong/tune_file.h"

/* Ticks of a quarter note: divisible by 256, 9, 5, 7, 11 and 13. */
enum { US_TICKS = 11531520 };

/* Bounds on what a file may ask for.  No more is played than may be written: whatever could be read can be
   written out, repeats and all, and read again. */
enum {
    US_WRITTEN_NOTES_MAX = 100000,
    US_WRITTEN_BARS_MAX = 20000,
    US_PLAYED_BARS_MAX = US_WRITTEN_BARS_MAX,
    US_PLAYED_NOTES_MAX = US_WRITTEN_NOTES_MAX,
    US_ENDING_MAX = 15,
    US_PARTS_MAX = 200
};
#define US_WRITTEN_TICKS_MAX (100000 * (int64_t)US_TICKS)

enum us_written_flag {
    US_WRITTEN_TIE = 1,        /* tied to the next note */
    US_WRITTEN_SLUR_OPEN = 2,  /* a slur starts here */
    US_WRITTEN_SLUR_CLOSE = 4, /* and one ends here */
    US_WRITTEN_LINE = 8        /* first note on a line of the page */
};

struct us_written_note {
    int64_t at;
    int64_t len;
    int16_t pitch;
    int8_t spelling; /* place on the line of fifths */
    uint8_t flags;
};

struct us_written_chord {
    int64_t at;
    struct us_chord chord; /* US_NO_CHORD: the chord before ends here */
};

/* Signs that send the player elsewhere.  The first two mark a bar's start, the others its end. */
enum us_written_jump {
    US_JUMP_SEGNO = 1,
    US_JUMP_CODA = 2,
    US_JUMP_DA_CAPO = 4,
    US_JUMP_DAL_SEGNO = 8,
    US_JUMP_TO_CODA = 16, /* obeyed after the jump back, as is the next */
    US_JUMP_FINE = 32
};

struct us_written_bar {
    int64_t at;
    int64_t len;
    struct us_metre metre;
    struct us_key key;
    uint16_t endings; /* bit n: this bracket is for the n-th time */
    uint8_t repeat_times;
    uint8_t jumps; /* enum us_written_jump */
    bool repeat_from;
    bool closes;
    char part; /* label of the part that starts here, or 0 */
};

enum { US_WRITTEN_VOICES = 2 };

struct us_written {
    struct us_written_note *notes[US_WRITTEN_VOICES];
    size_t note_count[US_WRITTEN_VOICES], note_room[US_WRITTEN_VOICES];
    struct us_written_chord *chords;
    size_t chord_count, chord_room;
    struct us_written_bar *bars;
    size_t bar_count, bar_room;
    char parts[US_PARTS_MAX + 1]; /* order of parts, played out: "AABA"; "" as they stand */
    struct us_key key;
    struct us_metre metre;
    double quarters_a_minute;
    char title[256];
    char composer[256];
    int number;
    bool flats; /* six sharps are written as six flats */
};

/* Grows `*array` so that one more item fits; false when memory ends. */
bool us_grow(void **array, size_t *room, size_t count, size_t item);

/* The greatest common divisor of two lengths; the other one where one is 0. */
int64_t us_common_divisor(int64_t a, int64_t b);

/* "1,3": the times that a bracket is for, from its bits. */
void us_write_times(uint16_t endings, FILE *to);

/* The first of `count` items, in order, that does not come `before` what is looked for. */
size_t us_first_not(size_t count, bool (*before)(const void *sought, size_t i), const void *sought);
/* The first item that is not before `at`; the list is sorted by its items' first member, int64_t at. */
size_t us_first_from(const void *list, size_t count, size_t item, int64_t at);

void us_written_init(struct us_written *written);
void us_written_finish(struct us_written *written);

/* Plays the page out into `out`: repeats, endings, order of parts, ties.  `name` is for messages. */
US_WARN_UNUSED enum us_status us_written_play(const struct us_written *written, const char *name,
                                              struct us_tune_file *out, struct us_error *error);

/* The page's bars in playing order: `*order` is a fresh array for free(). */
US_WARN_UNUSED enum us_status us_written_order(const struct us_written *written, const char *name,
                                               uint32_t **order, size_t *count, struct us_error *error);

/* The page of a tune: notes cut and tied at bar lines, and the repeats as they were written where they still
   play the same notes and chords; else played out.  Bars are made from the metre where the tune has none. */
US_WARN_UNUSED enum us_status us_written_from(const struct us_tune *tune, struct us_written *out,
                                              struct us_error *error);

/* A time in quarters as ticks, on the nearest note value or tuplet. */
int64_t us_written_ticks(double quarters);

/* The signature of a key as this page spells it, in fifths: -6 for G-flat, 6 for F-sharp. */
int us_page_fifths(const struct us_written *page, struct us_key key);
/* The letter name of a pitch class in a key as this page spells it.  Returns `out`. */
char *us_page_letter(const struct us_written *page, struct us_key key, int pitch_class, char *out,
                     size_t size);
/* The octave of a pitch so spelled: 4 from middle C to the B above. */
int us_spelling_octave(int spelling, int pitch);
/* How a signature of so many fifths alters the letter that is spelled so: 1 sharp, -1 flat, 0 not. */
int us_signature_alter(int fifths, int spelling);

#endif
