/* Hearing it in another key than it is played in.  Pure; any thread. */
#ifndef UNDERSONG_TRANSPOSE_H
#define UNDERSONG_TRANSPOSE_H

#include "undersong/key.h"

/* A keyboard whose transpose button moves its own sound but not what it sends: the program sounds `sounded`,
   the player looks for the key that sounds the same on the keyboard, which sends `pressed`.  The answer is
   what the keyboard adds, -11 to 11 semitones: octaves do not count, since the player may have found it an
   octave off. False where either is no pitch. */
bool us_transpose_by_ear(int sounded, int pressed, int *semitones);
/* Semitones from the key that is played to the key that is to be heard, -5 to 6, the nearer way. */
int us_transpose_between(struct us_key played, struct us_key heard);

#endif
