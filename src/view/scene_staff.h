/* The staff of the page: its lines, clef and key signature, and where a note stands on it. */
#ifndef VIEW_SCENE_STAFF_H
#define VIEW_SCENE_STAFF_H

#include "scene_parts.h"

struct staff {
    struct area area; /* where notes are; after staff_begin() what clef and signature have left */
    float space;      /* between two lines */
    float bottom;     /* y of the lowest line, E4 */
    int low, high;    /* places of notes that have room */
    double from;      /* quarters at the left edge */
    float quarter;    /* pixels a quarter */
};
enum { PLACE_E4 = 37 }; /* the lowest line of the treble staff, as staff_place() counts */

/* Steps of the letter names above C-1, as the key spells the pitch. */
int staff_place(struct us_key key, int pitch);
float staff_y(const struct staff *staff, int place);
/* Lines, clef and signature; moves the staff's area to their right. */
void staff_begin(struct stage *s, struct staff *staff);
/* The short lines for a note above or below the staff. */
void staff_ledgers(struct stage *s, const struct staff *staff, float x, int place);
/* The sign before a note that the signature does not have. */
void staff_accidental(struct stage *s, const struct staff *staff, float x, struct us_key key, int pitch,
                      enum us_ink ink);

#endif
