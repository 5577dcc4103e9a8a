#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

#include "commands.h"
#include "inputs.h"
#include "kept.h"
#include "review_write.h"
#include "target.h"
#include "undersong/file_save.h"
#include "undersong/follower.h"
#include "undersong/review_picture.h"
#include "undersong/straighten.h"
#include "undersong/tune_file.h"

enum review_format { FORMAT_TEXT, FORMAT_JSON, FORMAT_SVG, FORMAT_PNG, FORMAT_AUTO };
static const char *const FORMATS[] = {"text", "json", "svg", "png", "auto", NULL};
static const char *const ENDINGS[] = {".txt", ".json", ".svg", ".png"};

struct review_settings {
    const char *tune, *songbook, *to;
    int number, format;
    struct text_list files;
};

#define AT(field) offsetof(struct review_settings, field)
static const struct option OPTIONS[] = {
    {.name = "tune",
     .type = OPTION_TEXT,
     .offset = AT(tune),
     .argument = "FILE",
     .help = "the tune that was practised, in any key"},
    {.name = "number",
     .type = OPTION_INT,
     .offset = AT(number),
     .argument = "N",
     .low = 0,
     .high = 1000000,
     .fallback = "0",
     .help = "which tune of that file: its X: number; 0 takes the first"},
    {.name = "songbook",
     .type = OPTION_TEXT,
     .offset = AT(songbook),
     .argument = "FOLDER",
     .help = "tunes among which the one that was practised is found"},
    {.name = "format",
     .type = OPTION_CHOICE,
     .offset = AT(format),
     .choices = FORMATS,
     .fallback = "auto",
     .help = "plain text, JSON, or a picture: a line for each time through, bar by bar; auto goes by the "
             "ending of --to, and else writes text"},
    {.name = "to",
     .type = OPTION_TEXT,
     .offset = AT(to),
     .argument = "PATH",
     .help = "the file to write; a picture needs one"},
};

static enum us_status find_sessions(const struct review_settings *s, struct inputs *inputs,
                                    struct us_error *error)
{
    char folder[1024];
    if (s->files.count) return inputs_collect(&s->files, inputs, error);
    enum us_status status = kept_folder(folder, sizeof folder, error);
    const char *items[] = {folder};
    struct text_list one = {items, 1};
    if (!status) status = inputs_collect(&one, inputs, error);
    if (status == US_STATUS_BAD_INPUT)
        us_error_set(error, status,
                     "%.250s: no session with notes is kept there yet; play first, or name a file", folder);
    return status;
}

/* A session that cannot be read is told of, and the others are done. */
static enum us_status load_sessions(const struct inputs *inputs, struct us_session *sessions, size_t *count)
{
    enum us_status worst = US_STATUS_OK;
    for (size_t i = 0; i < inputs->count; i++) {
        struct us_error error;
        enum us_status status = us_session_load(inputs->paths[i], &sessions[*count], &error);
        if (!status)
            ++*count;
        else
            report_error(&error);
        if (status && !worst) worst = status;
    }
    return worst;
}

/* Keeps the better of two tunes in `best`. */
static double keep_better(struct us_tune_file *best, double best_fit, struct us_tune_file *file, double fit)
{
    if (fit <= best_fit) {
        us_tune_file_finish(file);
        return best_fit;
    }
    us_tune_file_finish(best);
    *best = *file;
    return fit;
}

static bool is_performance(const char *path)
{
    const char *dot = strrchr(path, '.');
    return dot && (strcasecmp(dot, ".mid") == 0 || strcasecmp(dot, ".midi") == 0);
}

/* The metre and the pickup where they are not written. */
static void find_metre(struct us_tune *tune)
{
    struct us_metre found;
    double pickup;
    if (tune->bar_count || (tune->metre.top && tune->pickup >= 0)) return;
    us_metre_of_tune(tune->notes, tune->note_count, &found, &pickup);
    bool same = us_metre_bar_quarters(found) == us_metre_bar_quarters(tune->metre);
    if (!tune->metre.top || same) tune->pickup = pickup;
    if (!tune->metre.top) tune->metre = found;
}

/* A tune to hold the sessions against; one that was played freely gets note values first. */
static enum us_status load_tune(const char *path, int number, struct us_tune_file *file,
                                struct us_error *error)
{
    enum us_status status = us_tune_load_number(path, number, file, error);
    if (status) return status;
    status = us_tune_straighten(file, error);
    if (!status)
        find_metre(&file->tune);
    else
        us_tune_file_finish(file);
    return status;
}

static double try_tunes(const char *path, const struct us_session *sessions, size_t count,
                        struct us_tune_file *best, double best_fit)
{
    struct us_tune_entry *entries = NULL;
    size_t entry_count = 0;
    struct us_error ignored;
    if (us_tune_list(path, &entries, &entry_count, &ignored)) return best_fit;
    for (size_t e = 0; e < entry_count; e++) {
        struct us_tune_file file;
        if (load_tune(path, entries[e].number, &file, &ignored)) continue;
        best_fit = keep_better(best, best_fit, &file, us_review_fit(sessions, count, &file.tune));
    }
    free(entries);
    return best_fit;
}

/* The tune of the songbook that fits the sessions best; nothing in `best` where none fits.  Written tunes
   come first: a MIDI file in the folder may be a performance, perhaps the very one that is reviewed. */
static enum us_status search_songbook(const char *folder, const struct us_session *sessions, size_t count,
                                      struct us_tune_file *best, struct us_error *error)
{
    struct inputs songs;
    const char *items[] = {folder};
    struct text_list one = {items, 1};
    enum us_status status = inputs_collect(&one, &songs, error);
    if (status) return status;
    double best_fit = 0;
    for (int performances = 0; performances < 2 && best_fit <= 0; performances++)
        for (size_t i = 0; i < songs.count; i++)
            if (is_performance(songs.paths[i]) == (performances == 1))
                best_fit = try_tunes(songs.paths[i], sessions, count, best, best_fit);
    inputs_finish(&songs);
    return US_STATUS_OK;
}

static enum us_status write_review(const struct review_settings *s, const struct us_review *review,
                                   struct us_error *error)
{
    if (s->format == FORMAT_SVG || s->format == FORMAT_PNG)
        return us_review_picture(review, s->to, s->format == FORMAT_PNG, error);
    char *bytes = NULL;
    size_t size = 0;
    FILE *memory = open_memstream(&bytes, &size);
    if (!memory) return us_error_no_memory(error);
    if (s->format == FORMAT_JSON)
        write_review_json(review, memory);
    else
        write_review_text(review, memory);
    enum us_status status = US_STATUS_OK;
    if (fclose(memory))
        status = us_error_no_memory(error);
    else if (s->to)
        status = us_file_save(s->to, bytes, size, 0666, error);
    else
        fwrite(bytes, 1, size, stdout);
    free(bytes);
    if (!status && !s->to) status = printed(error);
    return status;
}

static enum us_status review_sessions(const struct review_settings *s, const struct us_session *sessions,
                                      size_t count, struct us_error *error)
{
    struct us_tune_file file = {0};
    struct us_review review;
    enum us_status status = US_STATUS_OK;
    if (s->tune)
        status = load_tune(s->tune, s->number, &file, error);
    else if (s->songbook)
        status = search_songbook(s->songbook, sessions, count, &file, error);
    if (status) return status;
    status = us_review_make(&review, sessions, count, file.notes ? &file.tune : NULL, error);
    if (!status) {
        status = write_review(s, &review, error);
        us_review_finish(&review);
    }
    us_tune_file_finish(&file);
    return status;
}

static enum us_status check_settings(const struct review_settings *s, struct us_error *error)
{
    bool picture = s->format == FORMAT_SVG || s->format == FORMAT_PNG;
    if (picture && !s->to)
        return us_error_set(error, US_STATUS_BAD_INPUT, "--format %s: give --to FILE.%s", FORMATS[s->format],
                            FORMATS[s->format]);
    if (s->to && strcmp(s->to, "-") == 0)
        return us_error_set(error, US_STATUS_BAD_INPUT, "--to -: leave it out, and all is printed");
    if (s->tune && s->songbook)
        return us_error_set(error, US_STATUS_BAD_INPUT,
                            "--tune and --songbook both say what was practised; give one of them");
    if (s->number && !s->tune)
        return us_error_set(error, US_STATUS_BAD_INPUT,
                            "--number %d: of which songbook? give --tune FILE too", s->number);
    return US_STATUS_OK;
}

/* Neither a session nor the tune is written over. */
static enum us_status check_target(const struct review_settings *s, const struct inputs *inputs,
                                   struct us_error *error)
{
    if (!s->to) return US_STATUS_OK;
    enum us_status status = target_spares_all(s->to, inputs, error);
    return !status && s->tune ? target_spares(s->to, s->tune, error) : status;
}

static enum us_status find_inputs(const struct review_settings *s, struct inputs *inputs,
                                  struct us_error *error)
{
    enum us_status status = check_settings(s, error);
    if (!status) status = find_sessions(s, inputs, error);
    if (status) return status;
    status = check_target(s, inputs, error);
    if (status) inputs_finish(inputs);
    return status;
}

static int run_review(const void *settings)
{
    struct review_settings given = *(const struct review_settings *)settings, *s = &given;
    struct us_error error;
    struct inputs inputs;
    size_t count = 0;
    if (s->format == FORMAT_AUTO) s->format = target_format(s->to, ENDINGS, FORMAT_AUTO, FORMAT_TEXT);
    enum us_status status = find_inputs(s, &inputs, &error), worst = US_STATUS_OK;
    if (status) return report_error(&error);
    struct us_session *sessions = calloc(inputs.count, sizeof *sessions);
    if (sessions) worst = load_sessions(&inputs, sessions, &count);
    if (!sessions) status = us_error_no_memory(&error);
    if (!status && count) status = review_sessions(s, sessions, count, &error);
    for (size_t i = 0; i < count; i++)
        us_session_finish(&sessions[i]);
    free(sessions);
    inputs_finish(&inputs);
    return status ? report_error(&error) : us_status_exit_code(worst);
}

const struct command command_review = {
    .name = "review",
    .summary = "what kept sessions show: hesitations, wrong notes, keys, bar by bar",
    .arguments = "[SESSION.mid...]",
    .options = OPTIONS,
    .option_count = sizeof OPTIONS / sizeof *OPTIONS,
    .settings_size = sizeof(struct review_settings),
    .rest_offset = AT(files),
    .run = run_review,
};
