#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "undersong/plain_line.h"
#include "undersong/review.h"
#include "undersong/smf_tune.h"

static void note_on(struct us_session *session, size_t *open, const struct us_smf_event *event)
{
    open[event->data1] = session->count + 1;
    session->played[session->count++] =
        (struct us_played){event->at_ns, event->at_ns, event->data1, event->data2};
}

static void read_melody(const struct us_smf *smf, struct us_smf_melody melody, struct us_session *session)
{
    size_t open[US_PITCHES] = {0}; /* index + 1 of the note that sounds */
    for (size_t i = 0; i < smf->count; i++) {
        const struct us_smf_event *event = &smf->events[i];
        if (event->track != melody.track || (event->status & 0x0F) != melody.channel || event->status >= 0xF0)
            continue;
        size_t *note = &open[event->data1 & 0x7F];
        bool on = (event->status & 0xF0) == US_MIDI_NOTE_ON, off = (event->status & 0xF0) == US_MIDI_NOTE_OFF;
        if ((on || off) && *note) {
            session->played[*note - 1].until_ns = event->at_ns;
            *note = 0;
        }
        if (on) note_on(session, open, event);
    }
    for (int pitch = 0; pitch < US_PITCHES; pitch++)
        if (open[pitch]) session->played[open[pitch] - 1].until_ns = smf->end_ns;
}

enum us_status us_session_load(const char *path, struct us_session *session, struct us_error *error)
{
    struct us_smf smf;
    *session = (struct us_session){0};
    enum us_status status = us_smf_load(&smf, path, error);
    if (status) return status;
    const char *slash = strrchr(path, '/');
    us_plain_line(slash ? slash + 1 : path, session->name, sizeof session->name);
    struct us_smf_melody melody;
    session->played = calloc(smf.count + 1, sizeof *session->played);
    if (!session->played)
        status = us_error_set(error, US_STATUS_NO_MEMORY, "%s: out of memory", path);
    else if (us_smf_find_melody(&smf, &melody))
        read_melody(&smf, melody, session);
    us_smf_finish(&smf);
    return status;
}

void us_session_finish(struct us_session *session)
{
    if (!session) return;
    free(session->played);
    *session = (struct us_session){0};
}
