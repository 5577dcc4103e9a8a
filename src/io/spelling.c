/* How notes are spelled: places on the line of fifths, letters, signatures. */
#include "written.h"

#include <stdio.h>

static const char FIFTHS[] = "FCGDAEB";

/* From F with two flats to B with two sharps; twelve places on is the same key of the keyboard. */
enum { FLATTEST = -15, SHARPEST = 19 };

static int with_two_signs(int spelling)
{
    while (spelling > SHARPEST)
        spelling -= US_PITCH_CLASSES;
    while (spelling < FLATTEST)
        spelling += US_PITCH_CLASSES;
    return spelling;
}

char us_spelling_letter(int spelling, int *alter)
{
    int place = with_two_signs(spelling) + 1 + 70; /* well above zero, so that division rounds down */
    *alter = place / 7 - 10;
    return FIFTHS[place % 7];
}

int us_page_fifths(const struct us_written *page, struct us_key key)
{
    int fifths = us_key_signature(key);
    return page->flats && fifths == 6 ? -6 : fifths;
}

char *us_page_letter(const struct us_written *page, struct us_key key, int pitch_class, char *out,
                     size_t size)
{
    static const char *const SIGNS[] = {"bb", "b", "", "#", "##"};
    int alter, turn = us_page_fifths(page, key) - us_key_signature(key);
    char letter = us_spelling_letter(us_key_spelling(key, pitch_class) + turn, &alter);
    snprintf(out, size, "%c%s", letter, SIGNS[alter + 2]);
    return out;
}

int us_spelling_octave(int spelling, int pitch)
{
    int alter;
    us_spelling_letter(spelling, &alter);
    return (pitch - alter) / US_PITCH_CLASSES - 1;
}

/* The places of a letter are seven apart. */
int us_signature_alter(int fifths, int spelling)
{
    int alter;
    us_spelling_letter(spelling, &alter);
    int natural = with_two_signs(spelling) - 7 * alter;
    return natural <= fifths - 2 ? 1 : natural >= fifths + 6 ? -1 : 0;
}
