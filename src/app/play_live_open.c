#include "play_live_parts.h"

#include "play_file.h"
#include "rehearse.h"
#include "undersong/clock.h"
#include "undersong/realtime.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

enum { QUEUE_ACTIONS = 8192, AUDIO_WAIT_MS = 3000 };
#define LEAD_IN_NS INT64_C(50000000)          /* between opening and the first note of a file */
#define WINDOW_LEAD_IN_NS INT64_C(1000000000) /* a window does not wait for the sound to begin */

void live_say(void *play, const char *line)
{
    struct live_play *p = play;
    if (p->say)
        p->say(p->say_user, line);
    else
        live_view_say(&p->view, line);
}

static enum us_status sort_sinks(struct live_play *p, struct us_error *error)
{
    const struct text_list *to = &p->play->to;
    p->to_synth = to->count == 0;
    for (size_t i = 0; i < to->count; i++) {
        const char *name = to->items[i];
        enum us_status status = US_STATUS_OK;
        if (strcmp(name, "synth") == 0)
            p->to_synth = true;
        else if (strcmp(name, "-") == 0)
            p->to_bytes = true;
        else if (outputs_is_file(name))
            status = outputs_add(&p->outputs, name, p->play->mark_beats, error);
        else if (outputs_looks_like_file(name))
            status =
                us_error_set(error, US_STATUS_BAD_INPUT,
                             "--to %.100s: such a file cannot be written; give FILE.mid, FILE.wav, synth, - "
                             "or the name of a MIDI output",
                             name);
        else if (p->midi_count < US_MIDI_OUTPUTS_MAX)
            p->midi_names[p->midi_count++] = name;
        else
            status =
                us_error_set(error, US_STATUS_BAD_INPUT, "--to %.100s: too many; at most %d MIDI outputs",
                             name, US_MIDI_OUTPUTS_MAX);
        if (status) return status;
    }
    if (p->setup.patch.silent) p->to_synth = false;
    return US_STATUS_OK;
}

static enum us_status sort_source(struct live_play *p, struct us_error *error)
{
    const char *from = p->play->from;
    enum us_status status = play_input_init(&p->input, p->play, error);
    if (status || !from) return status;
    p->from_keys = strcmp(from, "keys") == 0;
    p->from_bytes = strcmp(from, "-") == 0;
    p->from_file = play_is_file(from);
    if (!p->from_file && outputs_looks_like_file(from))
        return us_error_set(
            error, US_STATUS_BAD_INPUT,
            "--from %.100s: such a file cannot be played; give FILE.mid, FILE.abc, FILE.musicxml, "
            "keys, - or the name of a MIDI input",
            from);
    return p->from_file ? performance_load(from, &p->input, &p->performance, error) : US_STATUS_OK;
}

/* Sound and recorder may outlive the play that opened them: in a window their lines go straight there. */
static void (*line_taker(struct live_play *p, void **user))(void *user, const char *line)
{
    *user = p->say ? p->say_user : p;
    return p->say ? p->say : live_say;
}

/* The same instruments sound on, without a gap. */
static bool keep_audio(struct live_play *p)
{
    struct live_play *before = p->before;
    if (!before || !before->audio) return false;
    if (strcmp(before->setup.patch.path, p->setup.patch.path) != 0) {
        us_audio_stop(before->audio); /* not two at once */
        before->audio = NULL;
        return false;
    }
    p->audio = before->audio;
    p->synth_queue = before->synth_queue;
    before->audio = NULL;
    before->synth_queue = NULL;
    return true;
}

static enum us_status open_audio(struct live_play *p, struct us_error *error)
{
    struct us_audio_settings settings = {
        .sound_font = p->play->sound_font, .level = p->play->level, .patch = p->setup.patch};
    if (keep_audio(p)) return US_STATUS_OK;
    settings.say = line_taker(p, &settings.user);
    const char *name = p->play->audio ? p->play->audio : "auto";
    if (!us_audio_backend_parse(name, &settings.backend)) settings.device = name;
    p->synth_queue = settings.queue = us_queue_create(QUEUE_ACTIONS);
    if (!settings.queue) return us_error_no_memory(error);
    enum us_status status = us_audio_start(&p->audio, &settings, error);
    if (!status && p->from_file && !p->window_keys) us_audio_wait(p->audio, AUDIO_WAIT_MS);
    return status;
}

/* A file is kept by default where a player plays; a performance that comes from a file is kept already. */
static enum us_status open_recorder(struct live_play *p, struct us_error *error)
{
    const char *keep = p->play->keep;
    if ((!keep && p->from_file) || (keep && strcmp(keep, "no") == 0)) return US_STATUS_OK;
    if (p->before && p->before->recorder) {
        p->recorder = p->before->recorder;
        p->before->recorder = NULL;
        return US_STATUS_OK;
    }
    struct us_recorder_settings settings = {.path = keep};
    settings.report = line_taker(p, &settings.context);
    if (p->before) settings.start_ns = us_clock_ns() - p->before->live_settings.origin_ns;
    enum us_status status = us_recorder_open(&p->recorder, &settings, error);
    if (!status || keep) return status;
    char line[sizeof error->text + 40];
    snprintf(line, sizeof line, "%s%s", error->text, p->say ? "" : "; --keep FILE.mid keeps it elsewhere");
    live_say(p, line); /* without being asked for, it must not keep anybody from playing */
    return US_STATUS_OK;
}

static enum us_status open_ports(struct live_play *p, struct us_error *error)
{
    bool want_input = !p->from_file && !p->from_keys && !p->from_bytes && (p->play->from || !p->window_keys);
    p->listens = want_input;
    if (!want_input && !p->midi_count) return US_STATUS_OK;
    struct us_midi_ports_settings settings = {.want_input = want_input,
                                              .input = p->play->from,
                                              .output_count = p->midi_count,
                                              .filter = &p->input,
                                              .clock = p->play->clock,
                                              .origin_ns = &p->live_settings.origin_ns};
    memcpy(settings.outputs, p->midi_names, sizeof settings.outputs);
    return us_midi_ports_open(&p->ports, &settings, error);
}

/* The computer's keys: as the piano, or beside another player for what they change. */
static enum us_status open_keys(struct live_play *p, struct us_error *error)
{
    bool beside = !p->window_keys && !p->from_keys && !p->from_bytes && !p->play->quiet &&
                  isatty(STDIN_FILENO) && tcgetpgrp(STDIN_FILENO) == getpgrp();
    if (!p->from_keys && !beside) return US_STATUS_OK;
    enum us_status status = us_typed_keys_init(&p->keys, STDIN_FILENO, p->from_keys, error);
    p->keys_open = !status;
    if (p->from_keys && !status && !p->play->quiet) fputs(US_TYPED_HELP, stderr);
    return status;
}

static void queue_send(void *self, const struct us_actions *actions)
{
    for (uint32_t i = 0; i < actions->count; i++)
        us_queue_push(self, &actions->list[i]);
}

static void after_step(void *context, const struct us_event *event, const struct us_actions *actions)
{
    struct live_play *p = context;
    p->played_ns = event->at_ns;
    if (!p->play->quiet) step_log_put(&p->log, p->setup.companion, event, actions);
}

static void time_moved(void *context, int64_t origin_ns)
{
    struct live_play *p = context;
    p->live_settings.origin_ns = origin_ns; /* the live thread's own, until that has ended */
    if (p->audio) us_audio_set_origin(p->audio, origin_ns);
}

static void on_reader_gone(void *user)
{
    struct live_play *p = user;
    us_live_stop(p->live);
}

/* Sources in the order of their importance: the first one's end is the end. */
static void connect_sources(struct live_play *p)
{
    struct us_live_settings *s = &p->live_settings;
    if (p->window_keys) s->sources[s->source_count++] = us_event_queue_source(p->window_keys);
    if (p->from_bytes) s->sources[s->source_count++] = us_byte_source(&p->bytes, STDIN_FILENO, &p->input);
    if (p->from_keys) s->sources[s->source_count++] = us_typed_keys_source(&p->keys);
    if (p->ports) s->sources[s->source_count++] = us_midi_ports_source(p->ports);
    if (p->keys_open && !p->from_keys) s->sources[s->source_count++] = us_typed_keys_source(&p->keys);
}

/* MIDI first: it has the longest way to go. */
static void connect_sinks(struct live_play *p)
{
    struct us_live_settings *s = &p->live_settings;
    if (p->to_bytes) {
        s->sinks[s->sink_count++] = us_byte_sink(&p->byte_sink, STDOUT_FILENO);
        p->byte_sink.on_close = on_reader_gone;
        p->byte_sink.user = p;
    }
    if (p->midi_count) s->sinks[s->sink_count++] = us_midi_ports_sink(p->ports);
    if (p->audio) s->sinks[s->sink_count++] = (struct us_sink){.self = p->synth_queue, .send = queue_send};
    if (p->file_queue)
        s->sinks[s->sink_count++] = (struct us_sink){.self = p->file_queue, .send = queue_send};
}

/* A file that plays goes on where the earlier play left it. */
static void skip_played(struct performance *performance, int64_t played_ns)
{
    size_t first = 0;
    while (first < performance->count && performance->events[first].at_ns <= played_ns)
        first++;
    performance->count -= first;
    memmove(performance->events, performance->events + first,
            performance->count * sizeof *performance->events);
}

/* When little can fail any more: what was heard before, and the files that are written, go on here. */
static void go_on(struct live_play *p, struct live_play *before)
{
    struct outputs fresh = p->outputs;
    p->outputs = before->outputs;
    before->outputs = fresh;
    play_setup_go_on(&p->setup, &before->setup);
    if (p->from_file && before->from_file) skip_played(&p->performance, before->played_ns);
}

enum us_status live_open(struct live_play *p, struct us_error *error)
{
    enum us_status status = play_setup_init(&p->setup, p->play, error);
    if (!status) status = sort_sinks(p, error);
    if (!status) status = sort_source(p, error);
    if (!status) status = open_ports(p, error); /* first: a wrong name ends it here, with one line */
    if (!status) status = open_keys(p, error);
    if (!status && p->before) go_on(p, p->before);
    if (!status && p->to_synth) status = open_audio(p, error);
    if (!status) status = open_recorder(p, error);
    if (status) return status;
    rehearse(&p->setup.settings);
    p->live_settings = (struct us_live_settings){.companion = p->setup.companion,
                                                 .split = p->setup.patch.split,
                                                 .box = p->box,
                                                 .after = after_step,
                                                 .moved = time_moved,
                                                 .context = p};
    int64_t lead_in_ns = !p->from_file ? 0 : p->window_keys ? WINDOW_LEAD_IN_NS : LEAD_IN_NS;
    p->live_settings.origin_ns = p->before ? p->before->live_settings.origin_ns : us_clock_ns() + lead_in_ns;
    if (p->audio) us_audio_set_origin(p->audio, p->live_settings.origin_ns);
    if (p->recorder || p->outputs.midi_count || p->outputs.wav_count) {
        p->file_queue = us_queue_create(QUEUE_ACTIONS);
        if (!p->file_queue) return us_error_no_memory(error);
    }
    connect_sources(p);
    connect_sinks(p);
    us_realtime_lock_memory(p->setup.companion, us_companion_size());
    return us_live_create(&p->live, &p->live_settings, error);
}

void live_close(struct live_play *p)
{
    if (p->keys_open) us_typed_keys_finish(&p->keys);
    us_midi_ports_close(p->ports);
    us_audio_stop(p->audio);
    us_live_destroy(p->live);
    us_queue_destroy(p->synth_queue);
    us_queue_destroy(p->file_queue);
    outputs_finish(&p->outputs);
    performance_finish(&p->performance);
    play_setup_finish(&p->setup);
}
