/* The companion's ear for the key. */
#ifndef CORE_COMPANION_KEY_H
#define CORE_COMPANION_KEY_H

#include "companion_state.h"

/* A melody note, after it was felt and before `onset_ns` is moved.  Where the key is locked the answer does
   not ask for it: it waits. */
void us_companion_key_note(struct us_companion *c, int pitch);
/* What waits; at the beginning of each step. */
void us_companion_key_catch_up(struct us_companion *c);
/* The key of what is played: locked, the tune's where one leads, a strain's, or what the notes say. */
struct us_key us_companion_key_now(const struct us_companion *c);

#endif
