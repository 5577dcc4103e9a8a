/* A performance held against its tune: which played note is which written one, found afterwards over the
   whole, in whatever keys it was played.  Wrong, added and missing notes, pauses, repeats, and a player who
   goes back or begins anew are all expected.  Pure: the caller's workspace, no allocation; any thread. */
#ifndef UNDERSONG_ALIGN_H
#define UNDERSONG_ALIGN_H

#include "undersong/tune.h"

/* A note as it was played. */
struct us_played {
    int64_t at_ns, until_ns;
    uint8_t pitch;
    uint8_t velocity;
};

enum us_align_kind {
    US_ALIGN_RIGHT,
    US_ALIGN_WRONG, /* another pitch stands in its place */
    US_ALIGN_EXTRA  /* between the notes of the tune */
};

struct us_aligned {
    int32_t note;      /* of the tune; of an extra note the one before it, or -1 */
    int16_t shift;     /* semitones from the tune as written to the tune as played here */
    uint8_t kind;      /* enum us_align_kind */
    bool begins;       /* the player starts here, or has gone elsewhere in the tune */
    uint8_t missed;    /* notes of the tune left out just before this one */
    double quarter_ns; /* the tempo around here */
};

/* Bytes of workspace for so many played and written notes; alignment as from malloc. */
size_t us_align_workspace(size_t played, size_t notes);

/* Fills out[0..count-1].  Returns how well it fits, 0 to 1: the part of the played notes that are right, less
   what was left out or jumped.  From US_ALIGN_FITS on it is this tune, below US_ALIGN_MAY_FIT it is another
   one (among the demo songs a wrong one reaches 0.58).  `played` by time; an empty tune or performance gives
   0. */
#define US_ALIGN_FITS 0.62
#define US_ALIGN_MAY_FIT 0.5
double us_align(const struct us_played *played, size_t count, const struct us_tune *tune, void *workspace,
                struct us_aligned *out);

#endif
