#include "undersong/transpose.h"

bool us_transpose_by_ear(int sounded, int pressed, int *semitones)
{
    if (sounded < 0 || sounded >= US_PITCHES || pressed < 0 || pressed >= US_PITCHES) return false;
    *semitones = (sounded - pressed) % US_PITCH_CLASSES;
    return true;
}

int us_transpose_between(struct us_key played, struct us_key heard)
{
    int up = us_pitch_class(heard.tonic - played.tonic);
    return up > 6 ? up - US_PITCH_CLASSES : up;
}
