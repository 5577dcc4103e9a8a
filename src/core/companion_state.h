/* All that a companion holds.  Visible inside the core so that its parts and its tests can see it. */
#ifndef CORE_COMPANION_STATE_H
#define CORE_COMPANION_STATE_H

#include "emit.h"
#include "left_hand.h"
#include "score_beat.h"
#include "undersong/companion.h"
#include "undersong/follower_state.h"
#include "undersong/keyfinder.h"

/* The last notes, to catch up with a tune once it is recognized. */
enum { US_RECENT_NOTES = 16 };
struct us_recent_note {
    int64_t at_ns;
    uint8_t pitch;
};

/* What is known of the tune: the one that was named, or the one of the songbook that it turned out to be. */
struct us_known_tune {
    struct us_score_follower score;
    struct us_score_beat beat;
    struct us_songbook_listener songbook;
    struct us_recent_note recent[US_RECENT_NOTES];
    uint8_t recent_count;
    bool follows; /* a tune is followed */
    bool leads;   /* and trusted: it says where the beats and what the chords are */
};

struct us_companion {
    struct us_companion_settings settings;
    struct us_follower follower;
    struct us_keyfinder keys;
    struct us_harmony_live harmony;
    struct us_known_tune tune;
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
