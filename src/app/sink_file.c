#include "sink_file.h"

#include <stdlib.h>

#include "undersong/smf_writer.h"

struct sink_file {
    const char *path;
    struct us_smf_writer *writer;
    int track[US_VOICES];
    bool mark_beats;
    struct us_key key;
};

struct sink_file *sink_file_create(const char *path, bool mark_beats)
{
    static const char *const NAMES[US_VOICES] = {"melody", "left hand", "second voice"};
    struct sink_file *sink = calloc(1, sizeof *sink);
    if (!sink) return NULL;
    sink->path = path;
    sink->mark_beats = mark_beats;
    sink->key.tonic = US_NO_KEY;
    sink->writer = us_smf_writer_create(US_SMF_PERFORMED_DIVISION);
    if (!sink->writer) {
        free(sink);
        return NULL;
    }
    us_smf_writer_tempo(sink->writer, 0, US_SMF_PERFORMED_TEMPO_US);
    for (int v = 0; v < US_VOICES; v++)
        sink->track[v] = us_smf_writer_track(sink->writer, NAMES[v]);
    return sink;
}

static void send_message(struct sink_file *sink, const struct us_action *a, uint8_t status, uint8_t data1,
                         uint8_t data2)
{
    struct us_midi_message message = {(uint8_t)(status | a->voice), data1, data2};
    us_smf_writer_message(sink->writer, sink->track[a->voice], us_smf_performed_tick(a->at_ns), message);
}

static void send_mark(struct sink_file *sink, const struct us_action *a)
{
    int64_t tick = us_smf_performed_tick(a->at_ns);
    char numeral[12];
    switch (a->kind) {
    case US_ACTION_CHORD:
        us_smf_writer_text(sink->writer, 0, tick, US_SMF_MARKER,
                           us_chord_numeral(a->chord, a->key, numeral, sizeof numeral));
        break;
    case US_ACTION_KEY:
        if (a->key.tonic != US_NO_KEY) us_smf_writer_key(sink->writer, tick, a->key);
        break;
    case US_ACTION_METRE: us_smf_writer_metre(sink->writer, tick, a->metre); break;
    case US_ACTION_BEAT:
        if (sink->mark_beats) us_smf_writer_text(sink->writer, 0, tick, US_SMF_TEXT, a->bar ? "bar" : "beat");
        break;
    default: break;
    }
}

void sink_file_send(struct sink_file *sink, const struct us_actions *actions)
{
    for (uint32_t i = 0; i < actions->count; i++) {
        const struct us_action *a = &actions->list[i];
        switch (a->kind) {
        case US_ACTION_NOTE_ON: send_message(sink, a, US_MIDI_NOTE_ON, a->pitch, a->velocity); break;
        case US_ACTION_NOTE_OFF: send_message(sink, a, US_MIDI_NOTE_OFF, a->pitch, US_MIDI_RELEASE); break;
        case US_ACTION_PEDAL: send_message(sink, a, US_MIDI_CONTROL, 64, a->velocity); break;
        case US_ACTION_ALL_OFF: send_message(sink, a, US_MIDI_CONTROL, 123, 0); break;
        default: send_mark(sink, a); break;
        }
    }
}

enum us_status sink_file_save(struct sink_file *sink, struct us_error *error)
{
    return us_smf_writer_save(sink->writer, sink->path, 0666, error);
}

void sink_file_destroy(struct sink_file *sink)
{
    if (!sink) return;
    us_smf_writer_destroy(sink->writer);
    free(sink);
}
