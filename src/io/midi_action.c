#include "undersong/midi_action.h"

bool us_midi_from_action(const struct us_action *a, struct us_midi_message *out)
{
    switch (a->kind) {
    case US_ACTION_NOTE_ON:
        *out = (struct us_midi_message){(uint8_t)(US_MIDI_NOTE_ON | a->voice), a->pitch,
                                        a->velocity ? a->velocity : 1};
        return true;
    case US_ACTION_NOTE_OFF:
        *out = (struct us_midi_message){(uint8_t)(US_MIDI_NOTE_OFF | a->voice), a->pitch, US_MIDI_RELEASE};
        return true;
    case US_ACTION_PEDAL:
        *out = (struct us_midi_message){(uint8_t)(US_MIDI_CONTROL | a->voice), 64, a->velocity & 127};
        return true;
    case US_ACTION_ALL_OFF:
        *out = (struct us_midi_message){(uint8_t)(US_MIDI_CONTROL | a->voice), 123, 0};
        return true;
    default: return false;
    }
}
