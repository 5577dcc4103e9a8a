/* `play --phrase`: a part of the tune, round and round. */
#ifndef APP_PLAY_PHRASE_H
#define APP_PLAY_PHRASE_H

#include "known_tunes.h"
#include "undersong/loop.h"

/* Reads "2" or "2-3".  US_STATUS_BAD_INPUT where that is no part of the tune; `path` is for the message. */
enum us_status play_phrase(const char *text, const char *path, const struct known_tune *tune,
                           struct us_loop_part *part, struct us_error *error) US_WARN_UNUSED;

#endif
