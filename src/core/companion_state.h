/* All that a companion holds.  Visible inside the core so that its parts and its tests can see it. */
#ifndef CORE_COMPANION_STATE_H
#define CORE_COMPANION_STATE_H

#include "emit.h"
#include "left_hand.h"
#include "undersong/companion.h"
#include "undersong/follower_state.h"
#include "undersong/keyfinder.h"

struct us_companion {
    struct us_companion_settings settings;
    struct us_follower follower;
    struct us_keyfinder keys;
    struct us_harmony_live harmony;
    struct us_left_hand left;
    struct us_sounding sounding;
    struct us_felt felt;     /* the last place that was felt */
    struct us_choice choice; /* the chord now and what else would do */
    struct us_key key;       /* as last announced */
    struct us_metre metre;   /* as last announced */
    int64_t now_ns;
    int64_t struck_ns; /* when the left hand last began a chord */
    int16_t melody;    /* the last melody pitch, -1 before the first */
    double touch;      /* smoothed velocity of the melody */
    bool left_on, waiting, ended;
};

#endif
