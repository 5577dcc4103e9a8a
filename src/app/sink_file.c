#include "sink_file.h"

#include <stdlib.h>

#include "undersong/smf_writer.h"

struct sink_file {
    const char *path;
    struct us_smf_writer *writer;
    int track[US_VOICES];
    bool mark_beats;
};

struct sink_file *sink_file_create(const char *path, bool mark_beats)
{
    static const char *const NAMES[US_VOICES] = {"melody", "left hand", "second voice"};
    struct sink_file *sink = calloc(1, sizeof *sink);
    if (!sink) return NULL;
    sink->path = path;
    sink->mark_beats = mark_beats;
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

void sink_file_send(struct sink_file *sink, const struct us_actions *actions)
{
    for (uint32_t i = 0; i < actions->count; i++)
        if (sink->mark_beats || actions->list[i].kind != US_ACTION_BEAT)
            us_smf_writer_action(sink->writer, sink->track, &actions->list[i], 0);
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
