/* The effort of fingers on keys, note by note. */
#ifndef CORE_FINGERING_MODEL_H
#define CORE_FINGERING_MODEL_H

#include "undersong/fingering.h"

struct fingering_model {
    double stretch_factor; /* of the widest spans, by the size of the hand */
    us_pcset passes;       /* where the thumb passes in this key; 0: anywhere */
    us_pcset scale;
    int tonic;
    uint8_t scale_fingers[US_PITCH_CLASSES];
};

/* For a key, US_NO_KEY too, and a hand; see struct us_fingering_settings. */
struct fingering_model fingering_model_of(const struct us_fingering_settings *settings);

bool fingering_is_black(int pitch);

/* What note `i` adds when fingers a, b, c play notes i - 2, i - 1 and i; `a` does not matter before the third
   note, `b` not before the second. */
double fingering_step_cost(const struct fingering_model *m, const struct us_note *notes, size_t count,
                           size_t i, int a, int b, int c);

#endif
