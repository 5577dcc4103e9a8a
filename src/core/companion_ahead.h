/* What the page shows of a known tune besides what was played. */
#ifndef CORE_COMPANION_AHEAD_H
#define CORE_COMPANION_AHEAD_H

#include "companion_state.h"

/* What comes next in the tune that leads, in the key in which it is played, after the page's own notes. */
void us_look_ahead(const struct us_companion *c, struct us_snapshot *out);
/* Before anything was played: how the tune that was named begins, or the phrase of it, in the key in which it
   is written or asked for. */
void us_look_at_beginning(const struct us_companion *c, struct us_snapshot *out);

#endif
