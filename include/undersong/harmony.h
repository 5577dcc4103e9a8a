/* Which chord fits: one model, seen live (only what has sounded) or over the whole tune. */
#ifndef UNDERSONG_HARMONY_H
#define UNDERSONG_HARMONY_H

#include "undersong/chord.h"
#include "undersong/metre.h"
#include "undersong/tune.h"

enum us_chords { US_CHORDS_I, US_CHORDS_PRIMARY, US_CHORDS_WIDE };
enum us_change { US_CHANGE_AUTO, US_CHANGE_BAR, US_CHANGE_HALF, US_CHANGE_BEAT };

#endif
