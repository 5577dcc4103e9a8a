/* Chords and their roles in a key.  Pure; any thread. */
#ifndef UNDERSONG_CHORD_H
#define UNDERSONG_CHORD_H

#include "undersong/key.h"

enum us_chord_kind { US_CHORD_MAJ, US_CHORD_MIN, US_CHORD_DIM, US_CHORD_DOM7, US_CHORD_MIN7, US_CHORD_KINDS };

/* `root` is a pitch class, or US_NO_CHORD. */
enum { US_NO_CHORD = -1 };
struct us_chord {
    int8_t root;
    uint8_t kind; /* enum us_chord_kind */
};

/* The three roles that the primary triads play, and what other chords stand in for. */
enum us_role { US_ROLE_NONE, US_ROLE_I, US_ROLE_IV, US_ROLE_V, US_ROLES };

/* The pitch classes that a chord has; none for US_NO_CHORD. */
us_pcset us_chord_tones(struct us_chord chord);
/* Same root and kind; no chord is like no chord. */
bool us_chord_equal(struct us_chord a, struct us_chord b);
/* "maj", "min", "dim", "dom7", "min7". */
const char *us_chord_kind_name(enum us_chord_kind kind);
/* Letter symbol as abc and lead sheets write it: "G", "Em", "D7", "F#dim", spelled for `key`.  Returns `out`.
 */
char *us_chord_symbol(struct us_chord chord, struct us_key key, char *out, size_t size);
/* Reads such a symbol; extensions beyond the five kinds fold onto the nearest ("Gmaj7" is maj, "Dm9" min7),
   a bass after "/" is dropped.  False where it is no chord ("N.C.", words). */
bool us_chord_parse(const char *symbol, struct us_chord *chord);
/* Roman numeral in the key: "I", "iv", "V7", "viio", "bVII", "V/V" for secondary dominants.  Returns `out`.
 */
char *us_chord_numeral(struct us_chord chord, struct us_key key, char *out, size_t size);
/* The primary triad of a role: I IV V in major; i iv V in minor; i IV v in dorian; I IV v in mixolydian. */
struct us_chord us_chord_primary(struct us_key key, enum us_role role);
/* Which primary triad the chord stands in for by the substitution table of harmony primers (vi, iii for I; ii
   for IV; vii for V); US_ROLE_NONE outside it, such as secondary dominants. */
enum us_role us_chord_role(struct us_chord chord, struct us_key key);
const char *us_role_name(enum us_role role);

#endif
