#include "performance.h"

#include <stdlib.h>
#include <string.h>

#include "outputs.h"
#include "undersong/smf.h"
#include "undersong/tune_file.h"

/* How much of a written note a steady player holds. */
static const double HELD = 0.9;
static const double QUARTERS_A_MINUTE = 96;
enum { DRUM_CHANNEL = 9 }; /* General MIDI's channel 10 */

static bool is_midi_file(const char *path)
{
    return ends_with(path, ".mid") || ends_with(path, ".midi");
}

/* The first channel that plays notes, `wanted` where that is one; -1 where none does. */
static int8_t melody_channel(const struct us_smf *smf, int8_t wanted)
{
    for (size_t i = 0; i < smf->count; i++) {
        uint8_t status = smf->events[i].status;
        int8_t channel = (int8_t)(status & 0x0F);
        if ((status & 0xF0) != US_MIDI_NOTE_ON) continue;
        if (wanted >= 0 ? channel == wanted : channel != DRUM_CHANNEL) return channel;
    }
    return -1;
}

static enum us_status load_midi(const char *path, const struct us_input *given, struct performance *out,
                                struct us_error *error)
{
    struct us_smf smf;
    enum us_status status = us_smf_load(&smf, path, error);
    if (status) return status;
    struct us_input input;
    us_input_init(&input);
    if (given) input = *given;
    input.channel = melody_channel(&smf, input.channel);
    if (input.channel < 0) {
        us_smf_finish(&smf);
        return us_error_set(error, US_STATUS_BAD_INPUT, "%s: no notes in it%s; give a file with a melody",
                            path, given && given->channel >= 0 ? " on this channel" : "");
    }
    out->events = malloc((smf.count + 1) * sizeof *out->events);
    for (size_t i = 0; out->events && i < smf.count; i++) {
        const struct us_smf_event *e = &smf.events[i];
        struct us_midi_message message = {e->status, e->data1, e->data2};
        if (us_input_message(&input, message, e->at_ns, &out->events[out->count])) out->count++;
    }
    us_smf_finish(&smf);
    return out->events ? US_STATUS_OK : us_error_set(error, US_STATUS_NO_MEMORY, "%s: out of memory", path);
}

/* By time; at the same time releases first. */
static int by_time(const void *a, const void *b)
{
    const struct us_event *x = a, *y = b;
    if (x->at_ns != y->at_ns) return x->at_ns < y->at_ns ? -1 : 1;
    if (x->kind != y->kind) return x->kind == US_EVENT_NOTE_OFF ? -1 : 1;
    return (int)x->pitch - (int)y->pitch;
}

static enum us_status load_tune(const char *path, struct performance *out, struct us_error *error)
{
    struct us_tune_file file;
    enum us_status status = us_tune_load(path, &file, error);
    if (status) return status;
    const struct us_tune *tune = &file.tune;
    double tempo = tune->quarters_a_minute > 0 ? tune->quarters_a_minute : QUARTERS_A_MINUTE;
    double quarter_ns = 60e9 / tempo;
    out->events = malloc((2 * tune->note_count + 1) * sizeof *out->events);
    for (size_t i = 0; out->events && i < tune->note_count; i++) {
        const struct us_note *n = &tune->notes[i];
        struct us_event on = {.at_ns = (int64_t)(n->at * quarter_ns),
                              .kind = US_EVENT_NOTE_ON,
                              .pitch = (uint8_t)n->pitch,
                              .velocity = (uint8_t)n->velocity};
        struct us_event off = on;
        off.at_ns = (int64_t)((n->at + n->len * HELD) * quarter_ns);
        off.kind = US_EVENT_NOTE_OFF;
        out->events[out->count++] = on;
        out->events[out->count++] = off;
    }
    us_tune_file_finish(&file);
    if (!out->events) return us_error_set(error, US_STATUS_NO_MEMORY, "%s: out of memory", path);
    qsort(out->events, out->count, sizeof *out->events, by_time);
    return US_STATUS_OK;
}

enum us_status performance_load(const char *path, const struct us_input *input, struct performance *out,
                                struct us_error *error)
{
    memset(out, 0, sizeof *out);
    return is_midi_file(path) ? load_midi(path, input, out, error) : load_tune(path, out, error);
}

void performance_finish(struct performance *p)
{
    free(p->events);
    memset(p, 0, sizeof *p);
}
