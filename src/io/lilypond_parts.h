/* Shared by the files that write LilyPond source. */
#ifndef LILYPOND_PARTS_H
#define LILYPOND_PARTS_H

#include "undersong/sheet.h"

/* Bars a line that are forced where the music is even; 0: let LilyPond choose. */
struct lily_shape {
    double staff_size;
    int system_bars;
    bool one_page;
};

/* "fis'" for a pitch at its place on the line of fifths. */
char *lily_pitch(int pitch, int place, char *out, size_t size);
/* "2.", or "4*5/3" where no single value says it. */
char *lily_value(int32_t ticks, char *out, size_t size);
/* "\\key bes \\major"; nothing where no key is known. */
void lily_key(struct us_key key, FILE *out);
/* A quoted string with its quotes and backslashes made safe. */
void lily_quote(const char *text, FILE *out);

enum lily_voice { LILY_MELODY, LILY_SECOND, LILY_LEFT };
/* The music of one voice with bar checks, repeats and endings.  Breaks, metres and irregular bars are written
   with the melody. */
void lily_staff(const struct us_sheet *sheet, enum lily_voice voice, const struct lily_shape *shape,
                FILE *out);
/* Chord names in chord mode; the words under the notes; numerals; the other chord that would do. */
void lily_chords(const struct us_sheet *sheet, FILE *out);
void lily_words(const struct us_sheet *sheet, FILE *out);
void lily_numerals(const struct us_sheet *sheet, bool others, FILE *out);
bool lily_has_others(const struct us_sheet *sheet);

#endif
