#include "play_file.h"

#include "commands.h"
#include "drive.h"
#include "narrate.h"
#include "outputs.h"
#include "play_setup.h"

#include <string.h>

struct file_play {
    struct play_setup setup;
    struct performance performance;
    struct outputs outputs;
    struct narrator narrator;
    bool quiet;
};

bool play_is_file(const char *from)
{
    static const char *const ENDS[] = {".mid", ".midi", ".abc", ".musicxml", ".xml", ".mxl"};
    for (size_t i = 0; i < sizeof ENDS / sizeof *ENDS; i++)
        if (ends_with(from, ENDS[i])) return true;
    return false;
}

static void after_step(void *context, const struct us_event *event, const struct us_actions *actions)
{
    struct file_play *p = context;
    outputs_send(&p->outputs, actions);
    if (p->quiet) return;
    struct us_snapshot now;
    us_companion_snapshot(p->setup.companion, &now);
    narrate(&p->narrator, event, actions, &now);
}

static enum us_status open_outputs(struct file_play *p, const struct play_settings *play,
                                   struct us_error *error)
{
    enum us_status status = US_STATUS_OK;
    for (size_t i = 0; i < play->to.count && !status; i++) {
        const char *to = play->to.items[i];
        if (!outputs_is_file(to))
            return us_error_set(error, US_STATUS_BAD_INPUT,
                                "--to %.100s: in virtual time only files; give FILE.mid or FILE.wav", to);
        status = outputs_add(&p->outputs, to, play->mark_beats, error);
    }
    if (!status && play->keep && strcmp(play->keep, "no") != 0)
        status = outputs_add(&p->outputs, play->keep, play->mark_beats, error);
    return status;
}

static enum us_status run(struct file_play *p, const struct play_settings *play, struct us_error *error)
{
    struct us_input input;
    enum us_status status = play_input_init(&input, play, error);
    if (!status) status = play_setup_init(&p->setup, play, error);
    if (!status) status = performance_load(play->from, &input, &p->performance, error);
    if (!status) status = open_outputs(p, play, error);
    if (status) return status;
    struct drive drive = {
        .companion = p->setup.companion, .performance = &p->performance, .context = p, .after = after_step};
    drive_run(&drive);
    return outputs_save(&p->outputs, play->sound_font, play->level, &p->setup.patch, error);
}

int play_file(const struct play_settings *play)
{
    struct file_play p = {.narrator = {.out = stdout, .metre = play->metre}, .quiet = play->quiet};
    struct us_error error;
    enum us_status status = run(&p, play, &error);
    outputs_finish(&p.outputs);
    performance_finish(&p.performance);
    play_setup_finish(&p.setup);
    if (!status) status = printed(&error);
    return status ? report_error(&error) : 0;
}
