/* From MIDI messages to the companion's events: channel filter, pedal, switches, active sensing.  Pure, fixed
   size; the MIDI thread's. */
#ifndef UNDERSONG_INPUT_H
#define UNDERSONG_INPUT_H

#include "undersong/event.h"
#include "undersong/midi_bytes.h"
#include "undersong/status.h"

/* A key or a controller (pedal, button) that changes something instead of sounding. */
struct us_switch {
    bool is_key;    /* a key of the keyboard; else a controller, pressed at 64 and above */
    uint8_t number; /* pitch or controller, 0 to 127 */
    bool is_panic;
    uint8_t control; /* enum us_control */
    int8_t value;
};
enum { US_SWITCHES_MAX = 8 };

struct us_input {
    int8_t channel; /* 0 to 15, or -1 for all */
    uint8_t switch_count;
    struct us_switch switches[US_SWITCHES_MAX];
    /* Its own: */
    bool sensed; /* the instrument sends active sensing */
    int64_t heard_ns;
    bool pressed[US_SWITCHES_MAX];
};

/* Every channel is listened to, nothing is switched. */
void us_input_init(struct us_input *input);
/* Reads "KEY=WHAT" or "ccN=WHAT", several with commas; KEY is a note name (C2, F#1) or number, WHAT one of
   texture (the default), lock, left, tap, panic. */
enum us_status us_input_switches(struct us_input *input, const char *text,
                                 struct us_error *error) US_WARN_UNUSED;
/* "auto" or 1 to 16. */
enum us_status us_input_channel(struct us_input *input, const char *text,
                                struct us_error *error) US_WARN_UNUSED;

/* True where the message means something to the companion; then `event` is filled.  CC 120 and 123 are a
   release of everything (MIDI 1.0, channel mode messages). */
bool us_input_message(struct us_input *input, struct us_midi_message message, int64_t now_ns,
                      struct us_event *event);
/* Active sensing: once it was heard, silence on the line for more than 300 ms means that the instrument is
   gone (MIDI 1.0, active sensing). True once, when that has happened: then release everything. */
bool us_input_lost(struct us_input *input, int64_t now_ns);
/* The instrument was unplugged: nothing of it is waited for, and no switch is held any more. */
void us_input_gone(struct us_input *input);
/* When us_input_lost() may come true, or INT64_MAX. */
int64_t us_input_due(const struct us_input *input);

#endif
