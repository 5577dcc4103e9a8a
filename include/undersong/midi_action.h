/* What an action is on a MIDI wire: channel 1 melody, 2 left hand, 3 second voice.  Pure; any thread. */
#ifndef UNDERSONG_MIDI_ACTION_H
#define UNDERSONG_MIDI_ACTION_H

#include "undersong/event.h"
#include "undersong/midi_bytes.h"

/* False for actions that are none, such as a change of chord. */
bool us_midi_from_action(const struct us_action *action, struct us_midi_message *out);

#endif
