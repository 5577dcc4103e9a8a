/* Whether the same melody has the same chords each time: beats in bars that come back, after a bar that comes
   back as well. */
#ifndef MODEL_RETURNS_H
#define MODEL_RETURNS_H

#include "undersong/harmony.h"

struct returns {
    double beats;   /* that come back */
    double written; /* of these, those whose written role is the same as before */
    double said;    /* those with the same chord as before in the answer */
};

/* Adds the tune's beats that come back.  `written` has a role for each beat of the view. */
void returns_count(const struct us_tune *tune, const struct us_harmony_view *view,
                   const enum us_role *written, struct returns *sum);

#endif
