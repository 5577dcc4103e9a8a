/* Two tunes that must play the same, for the tests of what we write. */
#ifndef SAME_TUNE_H
#define SAME_TUNE_H

#include "undersong/tune_file.h"

/* Fails the test where the two differ in notes, chords, second voice, bars, key, metre, pickup, tempo or
   title.  `what` goes into the message. */
void expect_same_tune(const struct us_tune *a, const struct us_tune *b, const char *what);

/* A tune made up from a seed: metres, keys, pickups, repeats, endings, triplets, ties, chords, a second voice
   now and then, as abc text. */
void random_abc(unsigned seed, char *out, size_t size);

#endif
