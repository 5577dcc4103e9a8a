/* All that a companion holds.  Visible inside the core so that its parts and its tests can see it. */
#ifndef CORE_COMPANION_STATE_H
#define CORE_COMPANION_STATE_H

#include "emit.h"
#include "left_hand.h"
#include "score_beat.h"
#include "undersong/companion.h"
#include "undersong/follower_state.h"
#include "undersong/hands.h"
#include "undersong/keyfinder.h"
#include "undersong/page.h"
#include "undersong/strain.h"

/* What is left to do goes on so soon after a step: the answer goes out first, and a thread that does not
   sleep holds up who is to hear it. */
#define US_SOON_NS INT64_C(2000000)

/* What is known of the tune: the one that was named, or the one of the songbook that it turned out to be. */
struct us_known_tune {
    struct us_score_follower score;
    struct us_score_beat beat;
    struct us_songbook_listener songbook;
    bool follows; /* a tune is followed */
    bool leads;   /* and trusted: it says where the beats and what the chords are */
};

/* Where the run stands, in quarters since its first bar line. */
struct us_run_place {
    bool running, strong;
    double at, limit; /* at `at_ns`; where the next beat is that has not come yet */
    double offset;    /* of bars that are counted otherwise, until the player starts anew */
    int64_t at_ns;
    double quarter_ns;
    struct us_metre metre;
};

/* Matching a keyboard that adds semitones to its own sound. */
enum us_match { US_MATCH_NONE, US_MATCH_TO_SOUND, US_MATCH_SOUNDS };

struct us_companion {
    struct us_companion_settings settings;
    struct us_follower follower;
    struct us_keyfinder keys;
    struct us_harmony_live harmony;
    struct us_known_tune tune;
    struct us_strain strain; /* the melody so far, and where in it the player is again */
    struct us_left_hand left;
    struct us_second second;
    const struct us_score *knows;   /* the tune whose entry as a round was looked for */
    enum us_round_state told_state; /* of the round's entry, as last told */
    struct us_run_place run;
    struct us_page page; /* the melody written along */
    int16_t unsung;      /* the melody note that the second voice has not heard yet, or -1 */
    uint8_t unsung_velocity;
    struct us_hands hands;
    struct us_share share;
    struct us_drill drill;
    struct us_loop loop;
    enum us_match match;
    int16_t match_pressed;
    bool learner_note;           /* the key of the last step was the learner's left hand's */
    int shift, shift_to;         /* semitones added to all that sounds: in this step, from the next on */
    struct us_sounding sounding; /* as played, before the shift */
    struct us_felt felt;         /* the last place that was felt */
    struct us_choice choice;     /* the chord now and what else would do */
    struct us_chord implied;     /* by the harmony, which may have made way for the melody */
    struct us_key key;           /* as last announced */
    struct us_metre metre;       /* as last announced */
    int64_t now_ns;
    int64_t onset_ns;       /* when the last melody note began */
    int64_t struck_ns;      /* when the left hand last began a chord */
    int16_t melody;         /* the last melody pitch, -1 before the first */
    int16_t grip_low;       /* the lowest of the keys that went down together last, -1 before the first */
    int64_t grip_ns;        /* when they began to */
    int16_t key_late;       /* a note that the key was not asked about yet, or -1 */
    double key_late_length; /* how long the note before it lasted, in seconds */
    double touch;           /* smoothed velocity of the melody */
    uint8_t pedal;          /* the player's, as passed on */
    bool left_on, waiting, ended;
    bool hushed; /* since a panic, until the player's next note */
};

/* Whether a key is down that is the melody's; of any integer. */
bool us_melody_sounds(const struct us_companion *c, int pitch);
/* Of a first note it may be unknown whether it is a pickup: then the left hand lets it pass. */
bool us_place_known(const struct us_felt *felt);

#endif
