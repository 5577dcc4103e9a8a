/* The ear's rule that every left hand keeps, told apart from the code that keeps it. */
#ifndef CLASHES_H
#define CLASHES_H

#include "undersong/texture.h"

#include <stdlib.h>

/* Whether a note of the voicing lies a minor second, a minor ninth, or that and more octaves from the melody.
 */
static inline bool clashes(struct us_voicing voicing, int melody)
{
    for (int i = 0; i < voicing.count; i++)
        if (melody >= 0 && abs(melody - voicing.pitch[i]) % 12 == 1) return true;
    return false;
}

#endif
