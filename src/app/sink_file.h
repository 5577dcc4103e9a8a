/* A MIDI file as a sink: melody, left hand and second voice on a track each, in performed time. */
#ifndef APP_SINK_FILE_H
#define APP_SINK_FILE_H

#include "undersong/event.h"
#include "undersong/status.h"

struct sink_file;

/* `mark_beats` also writes `bar` and `beat` texts.  NULL where memory is out. */
struct sink_file *sink_file_create(const char *path, bool mark_beats);
void sink_file_send(struct sink_file *sink, const struct us_actions *actions);
/* Writes the file, whole or not at all. */
enum us_status sink_file_save(struct sink_file *sink, struct us_error *error) US_WARN_UNUSED;
void sink_file_destroy(struct sink_file *sink);

#endif
