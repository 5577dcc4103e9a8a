/* What the companion does, as events of a MIDI file. */
#include "undersong/smf_writer.h"

enum { CC_PEDAL = 64, CC_ALL_NOTES_OFF = 123 };

static void write_mark(struct us_smf_writer *writer, const struct us_action *action, int64_t tick)
{
    char numeral[16];
    switch (action->kind) {
    case US_ACTION_CHORD:
        us_smf_writer_text(writer, 0, tick, US_SMF_MARKER,
                           us_chord_numeral(action->chord, action->key, numeral, sizeof numeral));
        break;
    case US_ACTION_KEY: us_smf_writer_key(writer, tick, action->key); break;
    case US_ACTION_METRE: us_smf_writer_metre(writer, tick, action->metre); break;
    case US_ACTION_BEAT:
        us_smf_writer_text(writer, 0, tick, US_SMF_TEXT, action->bar ? "bar" : "beat");
        break;
    default: break;
    }
}

void us_smf_writer_action(struct us_smf_writer *writer, const int track[US_VOICES],
                          const struct us_action *action, int64_t start_ns)
{
    static const uint8_t STATUS[] = {[US_ACTION_NOTE_ON] = US_MIDI_NOTE_ON,
                                     [US_ACTION_NOTE_OFF] = US_MIDI_NOTE_OFF,
                                     [US_ACTION_PEDAL] = US_MIDI_CONTROL,
                                     [US_ACTION_ALL_OFF] = US_MIDI_CONTROL};
    int64_t tick = us_smf_performed_tick(action->at_ns - start_ns);
    if (action->kind > US_ACTION_ALL_OFF || action->voice >= US_VOICES) {
        write_mark(writer, action, tick);
        return;
    }
    struct us_midi_message message = {(uint8_t)(STATUS[action->kind] | action->voice), action->pitch,
                                      action->velocity};
    if (action->kind == US_ACTION_NOTE_OFF) message.data2 = US_MIDI_RELEASE;
    if (action->kind == US_ACTION_PEDAL) message.data1 = CC_PEDAL;
    if (action->kind == US_ACTION_ALL_OFF) message.data1 = CC_ALL_NOTES_OFF, message.data2 = 0;
    us_smf_writer_message(writer, track[action->voice], tick, message);
}
