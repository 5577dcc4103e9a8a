/* The melody as it is written along while it is played, with its chords: the last notes, and what comes next
   where the tune is known.  Pure, fixed size. */
#ifndef UNDERSONG_PAGE_H
#define UNDERSONG_PAGE_H

#include "undersong/chord.h"

enum { US_PAGE_NOTES = 96, US_PAGE_CHORDS = 40 };
/* What of it a look ahead leaves to what was played. */
enum { US_PAGE_NOTES_PLAYED = 56, US_PAGE_CHORDS_PLAYED = 24 };

/* `at` and `len` in quarters since the first bar line of the run; a pickup is negative.  Where bars have come
   to be counted otherwise, the quarters go on. */
struct us_page_note {
    float at, len;
    uint8_t pitch;
    bool ahead; /* still to come */
    bool with;  /* struck together with the note before it */
};
struct us_page_chord {
    float at;
    struct us_chord chord;
    bool ahead;
};

struct us_page {
    struct us_page_note note[US_PAGE_NOTES]; /* by time; the oldest give way */
    struct us_page_chord chord[US_PAGE_CHORDS];
    uint8_t notes, chords;
    float here; /* where the music is */
    float line; /* where one of the bar lines is, as bars are counted now */
};

/* An empty page. */
void us_page_clear(struct us_page *page);
/* A note begins, `with`: struck together with the one before it; it is written with a small length until it
   ends. */
void us_page_note_on(struct us_page *page, double at, int pitch, bool with);
/* The last note of this pitch ends. */
void us_page_note_off(struct us_page *page, double at, int pitch);
/* A chord begins; one that was written at the same place or later gives way. */
void us_page_chord(struct us_page *page, double at, struct us_chord chord);
/* Something that is still to come, after all that was played: the oldest give way to it, and what is too far
   ahead is left out. */
void us_page_note_ahead(struct us_page *page, double at, double len, int pitch);
void us_page_chord_ahead(struct us_page *page, double at, struct us_chord chord);

#endif
