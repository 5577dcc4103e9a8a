/* Whether the same melody has the same chords each time: beats in bars that come back, after a bar that comes
   back as well. */
#ifndef MODEL_RETURNS_H
#define MODEL_RETURNS_H

#include "undersong/harmony.h"

struct returns {
    double beats, written, said; /* beats that come back; those with the same role as before */
};

/* Counts the tune's beats that come back.  `written` has a role for each beat of the view. */
void returns_count(const struct us_tune *tune, const struct us_harmony_view *view,
                   const enum us_role *written, struct returns *sum);

#endif
