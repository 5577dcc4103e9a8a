/* Learning harmony from tunes with chords.  Takes memory and minutes; any thread, not the MIDI one. */
#ifndef UNDERSONG_HARMONY_LEARN_H
#define UNDERSONG_HARMONY_LEARN_H

#include "undersong/harmony_tables.h"
#include "undersong/status.h"
#include "undersong/tune.h"

/* A tune with chords, metre and pickup, whose key is known. */
struct us_harmony_lesson {
    const struct us_tune *tune;
    struct us_key key;
    float hymn; /* 1: of hymns, chords by the beat; 0: of dances; negative: not known */
};

struct us_harmony_learn_options {
    int epochs; /* how often each tune is gone through; 0: as the built-in tables */
    const struct us_harmony_tables *start; /* go on from here; NULL: from nothing */
    void (*progress)(const char *what);    /* may be NULL */
};

/* Fills `out`.  Lessons without a chord, a note or a key teach nothing: where none is left
   US_STATUS_BAD_INPUT, without memory US_STATUS_NO_MEMORY, and `out` is not to be used.  Same lessons, same
   bytes. */
US_WARN_UNUSED enum us_status us_harmony_learn(const struct us_harmony_lesson *lessons, size_t count,
                                               const struct us_harmony_learn_options *options,
                                               struct us_harmony_tables *out, struct us_error *error);

#endif
