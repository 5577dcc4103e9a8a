/* What goes into the companion and what comes out of it.  Time is monotonic, in nanoseconds, given by the
 * driver. */
#ifndef UNDERSONG_EVENT_H
#define UNDERSONG_EVENT_H

#include "undersong/chord.h"
#include "undersong/metre.h"

enum us_event_kind {
    US_EVENT_NOTE_ON,
    US_EVENT_NOTE_OFF,
    US_EVENT_PEDAL,   /* CC 64: value 0 to 127 */
    US_EVENT_TICK,    /* nothing but time: sent when us_companion_due() has come */
    US_EVENT_CONTROL, /* a setting changes: `control` and `value` */
    US_EVENT_PANIC    /* release everything, and say so to the outputs */
};

enum us_control {
    US_CONTROL_NEXT_TEXTURE,
    US_CONTROL_TEXTURE,      /* value: enum us_texture */
    US_CONTROL_KEY_LOCK,     /* value: 0 off, 1 the key as found now, 2 toggle */
    US_CONTROL_LEFT_HAND,    /* value: 0 off, 1 on, 2 toggle */
    US_CONTROL_SHARE,        /* value: 0 to 100, or US_SHARE_AUTO */
    US_CONTROL_CHANGE,       /* value: enum us_change */
    US_CONTROL_CHORDS,       /* value: enum us_chords */
    US_CONTROL_SECOND_VOICE, /* value: enum us_second_voice */
    US_CONTROL_SOUND_SHIFT,  /* value: semitones added to all that sounds, -12 to 12; what sounds is released
                              */
    US_CONTROL_TAP           /* a beat, tapped by hand or foot */
};

struct us_event {
    int64_t at_ns;
    uint8_t kind; /* enum us_event_kind */
    uint8_t control;
    uint8_t pitch;
    uint8_t velocity;
    int32_t value;
};

/* Whose notes: one MIDI channel and one track each in a file sink (1, 2 and 3). */
enum us_voice { US_VOICE_MELODY, US_VOICE_LEFT, US_VOICE_SECOND, US_VOICES };

enum us_action_kind {
    US_ACTION_NOTE_ON,
    US_ACTION_NOTE_OFF,
    US_ACTION_PEDAL,     /* the player's pedal, passed on with the melody; up at a panic */
    US_ACTION_ALL_OFF,   /* CC 123 on this voice's channel */
    US_ACTION_CHORD,     /* the chord changes: a marker in a file sink */
    US_ACTION_KEY,       /* the key changes: a key signature in a file sink */
    US_ACTION_BEAT,      /* a beat was felt; `bar` where it is a bar line */
    US_ACTION_METRE,     /* the metre was found or has changed */
    US_ACTION_ROUND,     /* the entry of the round was found: after `value` bars; 0: it fits nowhere */
    US_ACTION_VERDICT,   /* the learner's left hand was judged: `value` is an enum us_fit, `chord` what was
                            expected; the whole verdict is in the snapshot */
    US_ACTION_DRILL,     /* `value` is an enum us_drill_news, `key` the key asked for from now on */
    US_ACTION_LOOP,      /* once through the loop: `value` is an enum us_loop_news */
    US_ACTION_TRANSPOSE, /* what the keyboard adds to its own sound was found: `value` semitones */
    US_ACTION_KINDS
};

struct us_action {
    int64_t at_ns;
    uint8_t kind;  /* enum us_action_kind */
    uint8_t voice; /* enum us_voice */
    uint8_t pitch;
    uint8_t velocity;
    struct us_chord chord;
    struct us_key key;
    struct us_metre metre;
    bool bar;
    int32_t value;
};

/* What one step answers.  Fixed capacity: a step that would need more leaves out beats, markers and notes
   that would begin; note-offs always fit, as no voice sounds more than 48 notes at a time. */
enum { US_ACTIONS_MAX = 192 };
struct us_actions {
    struct us_action list[US_ACTIONS_MAX];
    uint32_t count;
};

#endif
