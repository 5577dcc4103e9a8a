/* The companion: one pure step from the player's event to the left hand's.  The same code runs under the live
   MIDI thread, in virtual time, in tests and in fuzzers.  No clock, no allocation, no lock; one thread at a
   time. */
#ifndef UNDERSONG_COMPANION_H
#define UNDERSONG_COMPANION_H

#include "undersong/drill.h"
#include "undersong/event.h"
#include "undersong/harmony.h"
#include "undersong/loop.h"
#include "undersong/page.h"
#include "undersong/second_voice.h"
#include "undersong/share.h"
#include "undersong/songbook.h"
#include "undersong/texture.h"

struct us_companion_settings {
    const struct us_harmony_tables *tables; /* NULL: the built-in ones; must outlive the companion */
    enum us_texture texture;
    enum us_chords chords;
    enum us_change change;
    struct us_key key;     /* US_NO_KEY: find it */
    struct us_metre metre; /* top 0: find it */
    double pickup;         /* quarters; negative: find it */
    enum us_second_voice second_voice;
    int round_bars;        /* 0: find the entry (round:auto) */
    int share;             /* 0 to 100, or US_SHARE_AUTO */
    struct us_drill drill; /* the tune is led round these keys; count 0: no drill */
    bool match_keyboard;   /* first find by ear what the keyboard adds to its own sound, see transpose.h */
    const struct us_score *tune; /* the tune that is played; NULL: unknown.  Must outlive the companion */
    struct us_loop_part loop;    /* a part of `tune` that is played round and round; last 0: none */
    const struct us_songbook *songbook; /* tunes that it may be; NULL: none.  Must outlive the companion */
    int sound_shift;    /* semitones added to everything that sounds (--sound-in, --keyboard-transpose) */
    bool left_hand_off; /* it begins without its left hand; US_CONTROL_LEFT_HAND brings it */
};

struct us_companion;
/* Bytes of a companion, for the caller who owns its memory. */
size_t us_companion_size(void);
void us_companion_init(struct us_companion *c, const struct us_companion_settings *settings);
/* Goes on with other settings, such as another tune: what was found by listening stays - key and lock, beat,
   page, strains -, what sounds is forgotten as by a panic, the left hand's being off and the
   key's lock are kept where the settings say of them what they said before.  Its tables, tune and songbook
   are those of `settings` from now on; a tune that is the same as before goes on where it is, and so do a
   loop and a drill that are the same; for another one the entry of a round is looked for anew. Time must go
   on too. */
void us_companion_go_on(struct us_companion *c, const struct us_companion_settings *settings);
/* One event in; what must be sent now comes back in `out`, in the order in which it is to be sent: a note
   that begins again has ended before. */
void us_companion_step(struct us_companion *c, const struct us_event *event, struct us_actions *out);
/* When the companion next wants a US_EVENT_TICK, or INT64_MAX: call after each step. */
int64_t us_companion_due(struct us_companion *c);

/* What a view shows; plain data, copied out by the driver after a step. */
struct us_snapshot {
    int64_t at_ns;
    struct us_key key;
    double key_sure;
    struct us_metre metre;
    int32_t bar;
    double bar_quarters;
    double quarter_ns;
    struct us_chord chord;
    struct us_chord alternative[US_ALTERNATIVES_MAX];
    double alternative_probability[US_ALTERNATIVES_MAX];
    uint8_t alternatives;
    int16_t melody;    /* the player's last note, or -1 */
    bool learner_note; /* the key of this step was the learner's left hand's */
    enum us_texture texture;
    int sound_shift; /* semitones by which all sounds higher than it is played; keys and chords are as played
                      */
    bool left_hand_on, key_locked, waiting;
    bool place_known; /* false at a first note that may be a pickup or not */
    bool matching;    /* the keyboard is being matched by ear */
    bool answering;   /* the player is at the end, the round's answer goes on alone */
    enum us_second_voice second_voice;
    enum us_round_state round_state; /* of a round */
    int round_bars;
    int share_level;
    struct us_verdict verdict;             /* on the learner's last chord */
    struct us_loop loop;                   /* part.last 0 without one */
    struct us_key drill_asked, drill_next; /* US_NO_KEY without a drill */
    enum us_drill_news drill_news;         /* the last one */
    struct us_page page; /* the melody written along, and what comes next where the tune is known */
    bool knows_tune;     /* a known tune leads; `title` is its name */
    bool tune_waits; /* nothing is played yet, and a tune was named: `title`; the page has its beginning */
    struct us_key tune_key; /* ... as it is written there */
    struct us_metre tune_metre;
    char title[64];
    uint8_t melody_down[16], left_down[16], second_down[16]; /* bit sets of sounding pitches */
};
void us_companion_snapshot(const struct us_companion *c, struct us_snapshot *out);

#endif
