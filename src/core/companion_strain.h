/* Strains that come back: what the companion makes of them. */
#ifndef CORE_COMPANION_STRAIN_H
#define CORE_COMPANION_STRAIN_H

#include "companion_state.h"

/* A melody note, once it is felt where it lies. */
void us_companion_strain_note(struct us_companion *c, int pitch);
/* Between notes: looks whether it was played before; then place in the bar and harmony go on from there. */
void us_companion_strain_tick(struct us_companion *c);
/* The key of the strain that is played again, as it is played now; US_NO_KEY where none is. */
struct us_key us_companion_strain_key(const struct us_companion *c);

#endif
