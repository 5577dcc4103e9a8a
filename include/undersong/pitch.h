/* Pitches, pitch classes and sets of pitch classes.  Pure; any thread. */
#ifndef UNDERSONG_PITCH_H
#define UNDERSONG_PITCH_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

/* A pitch is a MIDI note number, 0 to 127; 60 is middle C (MIDI 1.0).  A pitch class is 0 (C) to 11 (B). */
enum { US_MIDDLE_C = 60, US_PITCHES = 128, US_PITCH_CLASSES = 12 };

/* A set of pitch classes: bit n is set when pitch class n is in the set. */
typedef uint16_t us_pcset;

/* The pitch class, 0 to 11, of any integer pitch, negative ones too. */
static inline int us_pitch_class(int pitch)
{
    int rest = pitch % US_PITCH_CLASSES;
    return rest < 0 ? rest + US_PITCH_CLASSES : rest;
}

/* The set moved up by `semitones` (any integer). */
us_pcset us_pcset_transpose(us_pcset set, int semitones);
bool us_pcset_has(us_pcset set, int pitch);

/* Scientific name of a pitch ("C4" is middle C), the black keys as "Bb" where `flats` is set, else as "A#".
   Writes at most `size` bytes, always terminated; returns `out`. */
char *us_pitch_name(int pitch, bool flats, char *out, size_t size);

#endif
