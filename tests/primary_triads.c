/* Prints the primary triads of the 24 keys, a line each: KEY MODE ROLE SYMBOL PITCH-CLASSES, for programs
   that know them from elsewhere. */
#include <stdio.h>

#include "undersong/chord.h"

int main(void)
{
    for (int tonic = 0; tonic < US_PITCH_CLASSES; tonic++)
        for (int mode = US_MODE_MAJOR; mode <= US_MODE_MINOR; mode++)
            for (int role = US_ROLE_I; role < US_ROLES; role++) {
                struct us_key key = {(int8_t)tonic, (uint8_t)mode};
                struct us_chord chord = us_chord_primary(key, (enum us_role)role);
                char letter[4], symbol[16];
                printf("%s %s %s %s", us_key_letter(key, tonic, letter, sizeof letter),
                       mode ? "minor" : "major", us_role_name((enum us_role)role),
                       us_chord_symbol(chord, key, symbol, sizeof symbol));
                for (int c = 0; c < US_PITCH_CLASSES; c++)
                    if (us_pcset_has(us_chord_tones(chord), c)) printf(" %d", c);
                putchar('\n');
            }
    return 0;
}
