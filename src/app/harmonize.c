#include <limits.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "commands.h"
#include "compare.h"
#include "harmonize_write.h"
#include "inputs.h"
#include "learned.h"
#include "screen.h"
#include "shared_rows.h"
#include "target.h"

static const char *const FORMATS[] = {"text", "json", "abc", "musicxml", "midi", "lilypond", "auto", NULL};
static const char *const ENDINGS[] = {".txt", ".json", ".abc", ".musicxml", ".mid", ".ly"};
static const char *const SYLLABLES[] = {"off", "la", "do", NULL};

#define AT(field) offsetof(struct harmonize_settings, field)
static const struct option OPTIONS[] = {
    {.name = "format",
     .type = OPTION_CHOICE,
     .offset = AT(format),
     .choices = FORMATS,
     .fallback = "auto",
     .help = "what to write: a sheet with reasons, or a file for other programs; auto goes by the ending of "
             "--to, and "
             "else writes text"},
    KEY_ROW(AT(key), FROM_THE_TUNE),
    METRE_ROW(AT(metre), FROM_THE_TUNE),
    PICKUP_ROW(AT(pickup)),
    CHORDS_ROW(AT(chords)),
    CHANGE_ROW(AT(change)),
    {.name = "alternatives",
     .type = OPTION_INT,
     .offset = AT(alternatives),
     .argument = "N",
     .low = 0,
     .high = US_ALTERNATIVES_MAX,
     .fallback = "2",
     .help = "how many other chords to tell of, with what speaks for them"},
    {.name = "choose",
     .type = OPTION_LIST,
     .offset = AT(choose),
     .argument = "BAR.BEAT=CHORD",
     .help = "settle a chord yourself, such as 3.1=IV; may be repeated, and the rest adapts"},
    {.name = "simplify",
     .type = OPTION_FLAG,
     .offset = AT(simplify),
     .help = "turn the chords that are written in the tune into I, IV and V"},
    {.name = "afresh",
     .type = OPTION_FLAG,
     .offset = AT(afresh),
     .help = "pay no heed to the chords that are written in the tune"},
    {.name = "compare",
     .type = OPTION_FLAG,
     .offset = AT(compare),
     .help = "set two harmonies of a tune side by side: of two files, or of one file the written one and the "
             "one that is found"},
    {.name = "syllables",
     .type = OPTION_CHOICE,
     .offset = AT(syllables),
     .choices = SYLLABLES,
     .fallback = "off",
     .help = "name the steps by syllables; the tonic of minor is la or do"},
    {.name = "texture",
     .type = OPTION_CHOICE,
     .offset = AT(texture),
     .choices = names_of_texture,
     .fallback = "block",
     .help = "the left hand in MIDI, LilyPond and in the notes of the JSON"},
    {.name = "sound-in",
     .type = OPTION_KEY,
     .offset = AT(sound_in),
     .argument = "KEY",
     .allow_auto = true,
     .fallback = "auto",
     .help = "the key in which a MIDI file sounds and a LilyPond page is written"},
    {.name = "learn-from",
     .type = OPTION_TEXT,
     .offset = AT(learn_from),
     .argument = "FOLDER",
     .help = "learn the habits of the tunes with chords in this folder and keep them for later"},
    {.name = "built-in",
     .type = OPTION_FLAG,
     .offset = AT(built_in),
     .help = "pay no heed to what --learn-from has learned"},
    NUMBER_ROW(AT(number)),
    TO_PATH_ROW(AT(to)),
};

static enum us_status write_one(const struct harmonized *h, FILE *out, struct us_error *error)
{
    switch (h->settings->format) {
    case FORMAT_TEXT: return write_harmony_text(h, screen_width(), out, error);
    case FORMAT_JSON: write_harmony_json(h, out); break;
    case FORMAT_MIDI: return write_harmony_midi(h, out, error);
    case FORMAT_ABC: return write_harmony_abc(h, out, error);
    case FORMAT_LILYPOND: return write_harmony_lilypond(h, out, error);
    case FORMAT_MUSICXML: return write_harmony_musicxml(h, out, error);
    }
    return US_STATUS_OK;
}

struct run {
    const struct harmonize_settings *settings;
    const struct inputs *inputs;
    const struct us_harmony_tables *tables; /* NULL: the built-in ones */
    size_t done, failed;
    enum us_status worst;
    bool folder; /* each tune has a file of its own */
};

static enum us_status save(const struct run *run, const char *input, const char *bytes, size_t size,
                           struct us_error *error)
{
    const struct harmonize_settings *s = run->settings;
    const char *to = s->to;
    char path[PATH_MAX];
    enum us_status status = US_STATUS_OK;
    if (run->folder) {
        status = target_path(s->to, run->inputs, input, ENDINGS[s->format], path, sizeof path, error);
        to = path;
    }
    if (!status) status = target_spares_all(to, run->inputs, error);
    return status ? status : target_save(to, bytes, size, run->folder, error);
}

static enum us_status deliver(struct run *run, const struct harmonized *h, struct us_error *error)
{
    const struct harmonize_settings *s = run->settings;
    char *bytes = NULL;
    size_t size = 0;
    FILE *memory = open_memstream(&bytes, &size);
    if (!memory) return us_error_no_memory(error);
    bool several = run->inputs->count > 1 && !run->folder;
    if (several && s->format == FORMAT_JSON) fputs(run->done ? ",\n" : "[", memory);
    if (several && s->format == FORMAT_TEXT && run->done) fputs("\n\n", memory);
    enum us_status status = write_one(h, memory, error);
    if (s->format == FORMAT_JSON && !several) fputc('\n', memory);
    if (fclose(memory) && !status) status = us_error_no_memory(error);
    if (!status && s->to)
        status = save(run, h->path, bytes, size, error);
    else if (!status)
        fwrite(bytes, 1, size, stdout);
    free(bytes);
    return status;
}

static void run_all(struct run *run)
{
    bool bar = run->inputs->count > 1 && isatty(STDERR_FILENO) && (run->folder || !isatty(STDOUT_FILENO));
    for (size_t i = 0; i < run->inputs->count; i++) {
        struct harmonized h;
        struct us_error error;
        const char *path = run->inputs->paths[i];
        enum us_status status =
            harmonize_file(run->settings, run->tables, path, run->settings->number, &h, &error);
        if (!status) {
            status = deliver(run, &h, &error);
            harmonized_finish(&h);
        }
        if (status) {
            if (bar) screen_clear_line();
            report_error(&error);
            run->failed++;
            if (!run->worst) run->worst = status;
        } else {
            run->done++;
        }
        if (bar) screen_progress(i + 1, run->inputs->count);
    }
}

static enum us_status check_settings(const struct harmonize_settings *s, const struct inputs *inputs,
                                     bool *folder, struct us_error *error)
{
    enum us_status status = target_folder(s->to, inputs->count, folder, error);
    bool one_stream = s->format == FORMAT_TEXT || s->format == FORMAT_JSON;
    if (status) return status;
    if (inputs->count > 1 && !*folder && !one_stream)
        return us_error_set(error, US_STATUS_BAD_INPUT,
                            "--format %s: there are %zu tunes, so give --to FOLDER", FORMATS[s->format],
                            inputs->count);
    if (s->format == FORMAT_MIDI && !s->to && isatty(STDOUT_FILENO))
        return us_error_set(error, US_STATUS_BAD_INPUT,
                            "--format midi: give --to FILE.mid; a screen cannot show it");
    return US_STATUS_OK;
}

static enum us_status run_inputs(struct run *run, struct us_error *error)
{
    const struct harmonize_settings *s = run->settings;
    enum us_status status = check_settings(s, run->inputs, &run->folder, error);
    if (status) return status;
    run_all(run);
    if (run->inputs->count > 1 && !run->folder && s->format == FORMAT_JSON) puts(run->done ? "]" : "[]");
    if (run->inputs->count > 1)
        fprintf(stderr, "%zu tune%s done, %zu failed\n", run->done, run->done == 1 ? "" : "s", run->failed);
    return printed(error);
}

static int run_harmonize(const void *settings)
{
    struct harmonize_settings given = *(const struct harmonize_settings *)settings, *s = &given;
    struct inputs inputs;
    struct us_harmony_tables *own = NULL;
    struct us_error error;
    if (s->format == FORMAT_AUTO) s->format = target_format(s->to, ENDINGS, FORMAT_AUTO, FORMAT_TEXT);
    if (s->learn_from) {
        int learned = learn_from_folder(s->learn_from);
        if (learned || s->files.count == 0) return learned;
    }
    enum us_status status = inputs_collect(&s->files, &inputs, &error);
    if (status) return report_error(&error);
    struct run run = {.settings = s, .inputs = &inputs};
    int exit_code = 0;
    if (!s->built_in) status = learned_load(&own, &error);
    run.tables = own;
    if (!status && s->compare)
        exit_code = compare_harmonies(s, own, &inputs);
    else if (!status)
        status = run_inputs(&run, &error);
    free(own);
    inputs_finish(&inputs);
    if (status) return report_error(&error);
    return exit_code ? exit_code : us_status_exit_code(run.worst);
}

const struct command command_harmonize = {
    .name = "harmonize",
    .summary = "work out the chords of a whole tune, with the alternatives and the reasons",
    .arguments = "FILE...",
    .options = OPTIONS,
    .option_count = sizeof OPTIONS / sizeof *OPTIONS,
    .settings_size = sizeof(struct harmonize_settings),
    .rest_offset = AT(files),
    .run = run_harmonize,
};
