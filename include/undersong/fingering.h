/* Right-hand fingering of a melody: the path of least effort through an ergonomic cost model.
   Model: Parncutt, Sloboda, Clarke, Raekallio and Desain, "An ergonomic model of keyboard fingering for
   melodic fragments", Music Perception 14(4), 1997.  Pure; any thread. */
#ifndef UNDERSONG_FINGERING_H
#define UNDERSONG_FINGERING_H

#include "undersong/key.h"
#include "undersong/tune.h"

/* Fingers are 1 (thumb) to 5 (little finger). */
enum { US_FINGERS = 5 };

struct us_fingering_settings {
    struct us_key key;     /* whose scale fingering the hand is used to; US_NO_KEY: none */
    double span_semitones; /* thumb to little finger at full stretch, 7 to 24; 0: 15, a grown-up's hand */
};

/* Bytes of working memory that a melody of `count` notes needs. */
size_t us_fingering_workspace(size_t count);

/* One finger a note into `fingers`.  `workspace` is the caller's, of us_fingering_workspace(count) bytes.  A
   rest of a quarter or more lets the hand move freely.  Returns the effort (0 for an empty melody). */
double us_fingering_right(const struct us_note *notes, size_t count,
                          const struct us_fingering_settings *settings, uint8_t *workspace, uint8_t *fingers);

#endif
