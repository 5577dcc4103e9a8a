/* Which key is being played: an estimate at every note, from the melody alone.  Pure, fixed size, any one
 * thread. */
#ifndef UNDERSONG_KEYFINDER_H
#define UNDERSONG_KEYFINDER_H

#include "undersong/key.h"

enum { US_KEY_COUNT = US_PITCH_CLASSES * US_MODES };

/* Log-probabilities of every key given the notes so far.  Visible so that a caller can own and copy it. */
struct us_keyfinder {
    double log_weight[US_KEY_COUNT]; /* index: tonic * US_MODES + mode */
    int16_t last_pitch;              /* -1 before the first note */
    uint32_t notes;
    bool locked;
    struct us_key lock;
};

void us_keyfinder_init(struct us_keyfinder *k);
/* From now on the key is `key`, whatever is played; a key with US_NO_KEY unlocks. */
void us_keyfinder_lock(struct us_keyfinder *k, struct us_key key);
/* One melody note.  `weight` is its metrical weight or length relative to a beat (1.0 where unknown); `fresh`
   says that the player starts anew (after a long rest, or the tune from its start), when a change of key is
   likely. */
void us_keyfinder_note(struct us_keyfinder *k, int pitch, double weight, bool fresh);
/* The best key now, and how sure it is (0 to 1). US_NO_KEY before the first note. */
struct us_key us_keyfinder_best(const struct us_keyfinder *k, double *probability);

/* The key of a whole tune. */
struct us_key us_key_of_tune(const int *pitches, const double *lengths, size_t count, double *probability);

#endif
