/* How notes are spelled on a page: signatures, letters, octaves. */
#include "written.h"

#include <string.h>

int us_page_fifths(const struct us_written *page, struct us_key key)
{
    int fifths = us_key_signature(key);
    return page->flats && fifths == 6 ? -6 : fifths;
}

char *us_page_letter(const struct us_written *page, struct us_key key, int pitch_class, char *out,
                     size_t size)
{
    int turn = us_page_fifths(page, key) - us_key_signature(key);
    return us_spelling_name(us_key_spelling(key, pitch_class) + turn, out, size);
}

int us_spelling_octave(int spelling, int pitch)
{
    int alter;
    us_spelling_letter(spelling, &alter);
    return (pitch - alter) / US_PITCH_CLASSES - 1;
}

int us_signature_alter(int fifths, int spelling)
{
    static const char BY_FIFTHS[] = "FCGDAEB";
    int alter, natural = (int)(strchr(BY_FIFTHS, us_spelling_letter(spelling, &alter)) - BY_FIFTHS) - 1;
    return natural <= fifths - 2 ? 1 : natural >= fifths + 6 ? -1 : 0;
}
