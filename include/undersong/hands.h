/* Which hand played a note: low notes that go together, against the melody line.  The split between them
   adapts to the player.  Pure; one thread at a time. */
#ifndef UNDERSONG_HANDS_H
#define UNDERSONG_HANDS_H

#include "undersong/pitch.h"

enum us_hand { US_HAND_RIGHT, US_HAND_LEFT };
enum { US_SPLIT_DEFAULT = 55 /* G3 */, US_SPLIT_LOWEST = 43, US_SPLIT_HIGHEST = 67 };

struct us_hands {
    double split;     /* a pitch; notes well below it are the left hand's */
    double left_top;  /* where the left hand's notes reach up to, slowly moving; 0 before its first note */
    double right_low; /* where the melody reaches down to, slowly moving; 0 before its first note */
    int16_t last_left, last_right; /* -1 before the first */
    int64_t left_ns;               /* when the left hand's last note came */
    uint8_t hand[US_PITCHES];      /* of each key that is down: enum us_hand + 1, 0 is up */
    uint8_t grip[4], grip_count;   /* keys taken for the right hand's within a moment */
    int64_t grip_ns;               /* when the first of them came */
    uint8_t taken_back;            /* so many of them turned out to be the left hand's with the last note */
};

/* No key is down; the split is US_SPLIT_DEFAULT. */
void us_hands_init(struct us_hands *h);
/* A key goes down; whose it is, from now until it is let go.  A line that wanders below the split on its own
   is still the melody.  Keys that were taken for the melody, two or more at once, are the left hand's as soon
   as the melody sounds above them: the first `taken_back` of `grip`. */
enum us_hand us_hands_note_on(struct us_hands *h, int64_t at_ns, int pitch);
/* A key is let go; whose it was. */
enum us_hand us_hands_note_off(struct us_hands *h, int pitch);

#endif
