#include "play_file.h"

#include <stdlib.h>
#include <string.h>

#include "commands.h"
#include "drive.h"
#include "known_tunes.h"
#include "narrate.h"
#include "sink_file.h"

enum { SINKS_MAX = 16 };

struct file_play {
    struct us_companion *companion;
    struct performance performance;
    struct known_tunes tunes;
    struct sink_file *sinks[SINKS_MAX];
    size_t sink_count;
    struct narrator narrator;
    bool quiet;
};

static bool ends_with(const char *text, const char *end)
{
    size_t n = strlen(text), m = strlen(end);
    return n > m && strcmp(text + n - m, end) == 0;
}

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
    for (size_t i = 0; i < p->sink_count; i++)
        sink_file_send(p->sinks[i], actions);
    if (p->quiet) return;
    struct us_snapshot now;
    us_companion_snapshot(p->companion, &now);
    narrate(&p->narrator, event, actions, &now);
}

static enum us_status open_sinks(struct file_play *p, const struct play_settings *play,
                                 struct us_error *error)
{
    for (size_t i = 0; i < play->to.count; i++) {
        const char *to = play->to.items[i];
        if (!ends_with(to, ".mid") && !ends_with(to, ".midi"))
            return us_error_set(error, US_STATUS_BAD_INPUT,
                                "--to %s: in virtual time only files; give FILE.mid", to);
        if (p->sink_count == SINKS_MAX)
            return us_error_set(error, US_STATUS_BAD_INPUT, "--to %s: too many; at most %d at once", to,
                                SINKS_MAX);
        p->sinks[p->sink_count] = sink_file_create(to, play->mark_beats);
        if (!p->sinks[p->sink_count]) return us_error_set(error, US_STATUS_NO_MEMORY, "out of memory");
        p->sink_count++;
    }
    return US_STATUS_OK;
}

static enum us_status load_tunes(struct file_play *p, const struct play_settings *play,
                                 struct us_companion_settings *settings, struct us_error *error)
{
    enum us_status status = US_STATUS_OK;
    if (play->tune) {
        status = known_tunes_load_one(play->tune, settings->chords, settings->change, &p->tunes, error);
        if (!status) settings->tune = p->tunes.songs[0];
    } else if (play->songbook) {
        status =
            known_tunes_load_folder(play->songbook, settings->chords, settings->change, &p->tunes, error);
        if (!status) settings->songbook = &p->tunes.book;
    }
    return status;
}

static enum us_status run(struct file_play *p, const struct play_settings *play, struct us_error *error)
{
    struct us_companion_settings settings;
    enum us_status status = play_companion_settings(play, &settings, error);
    if (!status) status = load_tunes(p, play, &settings, error);
    if (!status) status = performance_load(play->from, &p->performance, error);
    if (!status) status = open_sinks(p, play, error);
    if (status) return status;
    p->companion = malloc(us_companion_size());
    if (!p->companion) return us_error_set(error, US_STATUS_NO_MEMORY, "out of memory");
    us_companion_init(p->companion, &settings);
    struct drive drive = {
        .companion = p->companion, .performance = &p->performance, .context = p, .after = after_step};
    drive_run(&drive);
    for (size_t i = 0; i < p->sink_count && !status; i++)
        status = sink_file_save(p->sinks[i], error);
    return status;
}

int play_file(const struct play_settings *play)
{
    struct file_play p = {.narrator = {.out = stdout}, .quiet = play->quiet};
    struct us_error error;
    enum us_status status = run(&p, play, &error);
    for (size_t i = 0; i < p.sink_count; i++)
        sink_file_destroy(p.sinks[i]);
    performance_finish(&p.performance);
    known_tunes_finish(&p.tunes);
    free(p.companion);
    return status ? report_error(&error) : 0;
}
