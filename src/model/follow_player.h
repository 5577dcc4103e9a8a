/* A follower listens to a simulated player. */
#ifndef FOLLOW_PLAYER_H
#define FOLLOW_PLAYER_H

#include "players.h"

#include "undersong/follower.h"

/* Metre and pickup of a tune, as one tells them: the pickup from its first note on, rests before it left out.
 */
struct us_follower_settings follower_told(const struct us_tune *tune);
/* Plays everything into a new follower; `hear` gets each answer, to notes and by time.  False without memory.
 */
bool follow_performance(const struct performance *p, const struct us_follower_settings *settings,
                        void (*hear)(void *context, const struct us_felt *felt), void *context);

#endif
