/* What the player changes while playing, and silence at once. */
#ifndef CORE_COMPANION_CONTROL_H
#define CORE_COMPANION_CONTROL_H

#include "companion_state.h"

/* Takes a US_EVENT_CONTROL; a value out of its range changes nothing. */
void us_companion_control(struct us_companion *c, const struct us_event *event, struct us_actions *out);
/* Releases all that sounds in every voice, and takes every key of the player's, and the pedal, for let go;
   the next beat begins a chord. */
void us_companion_panic(struct us_companion *c, struct us_actions *out);

#endif
