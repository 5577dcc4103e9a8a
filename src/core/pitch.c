#include "undersong/pitch.h"

#include <stdio.h>

static const char *const SHARP_NAMES[] = {"C", "C#", "D", "D#", "E", "F", "F#", "G", "G#", "A", "A#", "B"};
static const char *const FLAT_NAMES[] = {"C", "Db", "D", "Eb", "E", "F", "Gb", "G", "Ab", "A", "Bb", "B"};

us_pcset us_pcset_transpose(us_pcset set, int semitones)
{
    unsigned shift = (unsigned)us_pitch_class(semitones);
    unsigned wide = (unsigned)set << shift;
    return (us_pcset)((wide | wide >> US_PITCH_CLASSES) & 0xfffu);
}

bool us_pcset_has(us_pcset set, int pitch)
{
    return set >> us_pitch_class(pitch) & 1u;
}

char *us_pitch_name(int pitch, bool flats, char *out, size_t size)
{
    int octave = (pitch - us_pitch_class(pitch)) / US_PITCH_CLASSES - 1;
    snprintf(out, size, "%s%d", (flats ? FLAT_NAMES : SHARP_NAMES)[us_pitch_class(pitch)], octave);
    return out;
}
