#include "written.h"

#include <stdio.h>

static const char FIFTHS[] = "FCGDAEB";

int us_spelling(struct us_key key, int pitch)
{
    int fifths = us_key_signature(key), place = us_pitch_class(pitch * 7);
    while (place > fifths + 8)
        place -= 12;
    while (place < fifths - 3)
        place += 12;
    return place;
}

char us_spelling_letter(int spelling, int *alter)
{
    int place = spelling + 1 + 70; /* well above zero, so that division rounds down */
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
    char letter = us_spelling_letter(us_spelling(key, pitch_class) + turn, &alter);
    snprintf(out, size, "%c%s", letter, alter < -2 || alter > 2 ? "" : SIGNS[alter + 2]);
    return out;
}

int us_spelling_octave(int spelling, int pitch)
{
    int alter;
    us_spelling_letter(spelling, &alter);
    return (pitch - alter) / US_PITCH_CLASSES - 1;
}
