/* Before the first note. */
#ifndef APP_REHEARSE_H
#define APP_REHEARSE_H

#include "undersong/companion.h"

/* Plays a few bars to a companion of its own and forgets them, so that what a step runs and reads is in
   memory when the player begins. */
void rehearse(const struct us_companion_settings *settings);

#endif
