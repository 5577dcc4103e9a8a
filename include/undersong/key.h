/* Keys, scale steps and syllables.  Pure; any thread. */
#ifndef UNDERSONG_KEY_H
#define UNDERSONG_KEY_H

#include "undersong/pitch.h"

enum us_mode { US_MODE_MAJOR, US_MODE_MINOR, US_MODE_DORIAN, US_MODE_MIXOLYDIAN, US_MODES };

/* A key: `tonic` is a pitch class 0 to 11, or US_NO_KEY where none is known. */
enum { US_NO_KEY = -1 };
struct us_key {
    int8_t tonic;
    uint8_t mode; /* enum us_mode */
};

/* A step of the scale: 1 to 7, and how it is altered in semitones (-1, 0, +1) against the key's own scale.
   In minor the scale is the natural one, so the leading note is step 7 raised. */
struct us_step {
    int8_t number;
    int8_t alter;
};

enum us_syllables { US_SYLLABLES_LA, US_SYLLABLES_DO }; /* which syllable the tonic of a minor key bears */

/* Accepts "G", "Bb", "F#", "Em", "C minor", "D dorian", "A mix", with the mode words of abc 2.1 (major,
   ionian, minor, aeolian, dorian, mixolydian; at least three letters, any case).  False for anything else,
   with `key` as it was. */
bool us_key_parse(const char *name, struct us_key *key);
/* "G major", "E minor", "D dorian"; "no key yet" where the tonic is US_NO_KEY.  Returns `out`. */
char *us_key_name(struct us_key key, char *out, size_t size);
/* Same tonic and mode; no key is like no key. */
bool us_key_equal(struct us_key a, struct us_key b);
/* Sharps (positive) or flats (negative) of the key signature, -7 to 7; the spelling with fewest accidentals.
 */
int us_key_signature(struct us_key key);
/* Whether the key is spelled with flats. */
bool us_key_flats(struct us_key key);
/* The seven notes of the scale; in minor the natural one. */
us_pcset us_key_scale(struct us_key key);
/* Whether the third of the scale is minor: in minor and dorian. */
bool us_mode_has_minor_third(enum us_mode mode);
/* Semitones above the tonic of step 1 to 7 in this mode. */
int us_mode_step_semitones(enum us_mode mode, int step);
/* The step of a pitch in a key that is known. */
struct us_step us_key_step(struct us_key key, int pitch);
/* "do re mi ..." with chromatic forms (di ri fi si li, ra me se le te).  Static text. */
const char *us_key_syllable(struct us_key key, int pitch, enum us_syllables style);
/* Place of a pitch on the line of fifths as spelled in this key: F -1, C 0, G 1. */
int us_key_spelling(struct us_key key, int pitch);
/* The letter ('A' to 'G') and the sharps or flats of a place on the line of fifths, -2 to 2: where it would
   take more, those of the same key of the keyboard twelve places on. */
char us_spelling_letter(int spelling, int *alter);
/* Its name: "F#", "Bb".  Returns `out`. */
char *us_spelling_name(int spelling, char *out, size_t size);
/* Letter name of a pitch class as spelled in this key ("F#" in G, "Gb" in D-flat). Returns `out`. */
char *us_key_letter(struct us_key key, int pitch_class, char *out, size_t size);

#endif
