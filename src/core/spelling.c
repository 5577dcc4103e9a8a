/* Letters and signs of places on the line of fifths. */
#include "undersong/key.h"

#include <stdio.h>

/* From F with two flats to B with two sharps; twelve places on is the same key of the keyboard. */
enum { FLATTEST = -15, SHARPEST = 19 };

char us_spelling_letter(int spelling, int *alter)
{
    while (spelling > SHARPEST)
        spelling -= US_PITCH_CLASSES;
    while (spelling < FLATTEST)
        spelling += US_PITCH_CLASSES;
    int place = spelling - FLATTEST;
    *alter = place / 7 - 2;
    return "FCGDAEB"[place % 7];
}

char *us_spelling_name(int spelling, char *out, size_t size)
{
    static const char *const SIGNS[] = {"bb", "b", "", "#", "##"};
    int alter;
    char letter = us_spelling_letter(spelling, &alter);
    snprintf(out, size, "%c%s", letter, SIGNS[alter + 2]);
    return out;
}
