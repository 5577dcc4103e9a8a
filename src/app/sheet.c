#include <limits.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "commands.h"
#include "inputs.h"
#include "screen.h"
#include "shared_rows.h"
#include "target.h"
#include "undersong/engrave.h"
#include "undersong/plain_line.h"
#include "undersong/sheet.h"
#include "undersong/straighten.h"
#include "undersong/tune_file.h"

enum sheet_format {
    FORMAT_TEXT,
    FORMAT_LILYPOND,
    FORMAT_PDF,
    FORMAT_PNG,
    FORMAT_MUSICXML,
    FORMAT_ABC,
    FORMAT_AUTO
};
static const char *const FORMATS[] = {"text", "lilypond", "pdf", "png", "musicxml", "abc", "auto", NULL};
static const char *const ENDINGS[] = {".txt", ".ly", ".pdf", ".png", ".musicxml", ".abc"};
static const char *const UNDER[] = {"steps", "syllables", "nothing", NULL};
static const char *const SYLLABLES[] = {"la", "do", NULL};

enum { KEYS_MAX = 24 };

struct sheet_settings {
    const char *keys, *to;
    int format, texture, chords, change, under, syllables, number;
    bool chords_only, fingering, large;
    double span, pickup;
    struct us_metre metre;
    struct text_list files;
};

#define AT(field) offsetof(struct sheet_settings, field)
static const struct option OPTIONS[] = {
    {.name = "keys",
     .type = OPTION_TEXT,
     .offset = AT(keys),
     .argument = "C,D,Bb",
     .help = "the keys to write the tune out in, one after the other; without it its own key"},
    {.name = "format",
     .type = OPTION_CHOICE,
     .offset = AT(format),
     .choices = FORMATS,
     .fallback = "auto",
     .help = "plain text, LilyPond source, pages through lilypond where it is installed, MusicXML, or abc; "
             "auto goes "
             "by the ending of --to, and else writes text"},
    {.name = "texture",
     .type = OPTION_CHOICE,
     .offset = AT(texture),
     .choices = names_of_texture,
     .fallback = "block",
     .help = "the left hand that is written out"},
    {.name = "chords-only",
     .type = OPTION_FLAG,
     .offset = AT(chords_only),
     .help = "name the chords and write no left hand"},
    {.name = "fingering",
     .type = OPTION_FLAG,
     .offset = AT(fingering),
     .help = "fingers of the right hand over the notes"},
    {.name = "span",
     .type = OPTION_NUMBER,
     .offset = AT(span),
     .argument = "SEMITONES",
     .low = 7,
     .high = 24,
     .fallback = "15",
     .help = "what the right hand reaches from thumb to little finger at full stretch; a child's 10 or 12"},
    {.name = "under",
     .type = OPTION_CHOICE,
     .offset = AT(under),
     .choices = UNDER,
     .fallback = "steps",
     .help = "what stands under the notes: the steps of the scale as figures or syllables"},
    {.name = "syllables",
     .type = OPTION_CHOICE,
     .offset = AT(syllables),
     .choices = SYLLABLES,
     .fallback = "la",
     .help = "the syllable of the tonic in minor"},
    {.name = "large",
     .type = OPTION_FLAG,
     .offset = AT(large),
     .help = "large type, for a classroom and for weak eyes"},
    CHORDS_ROW(AT(chords)),
    CHANGE_ROW(AT(change)),
    METRE_ROW(AT(metre), FROM_THE_TUNE),
    PICKUP_ROW(AT(pickup)),
    NUMBER_ROW(AT(number)),
    TO_PATH_ROW(AT(to)),
};

/* "C,D,Bb" into keys; none given is one US_NO_KEY, the tune's own. */
static enum us_status parse_keys(const char *list, struct us_key keys[KEYS_MAX], size_t *count,
                                 struct us_error *error)
{
    keys[0] = (struct us_key){US_NO_KEY, US_MODE_MAJOR};
    *count = list ? 0 : 1;
    for (const char *at = list; at && *at;) {
        char name[24];
        size_t length = strcspn(at, ",");
        snprintf(name, sizeof name, "%.*s", length < sizeof name ? (int)length : 0, at);
        if (*count >= KEYS_MAX)
            return us_error_set(error, US_STATUS_BAD_INPUT, "--keys: at most %d keys in one file", KEYS_MAX);
        if (!us_key_parse(name, &keys[*count]))
            return us_error_set(error, US_STATUS_BAD_INPUT,
                                "--keys %.60s: no such key; write them with commas, as in C,D,Bb", at);
        ++*count;
        at += length + (at[length] == ',');
    }
    if (!*count) return us_error_set(error, US_STATUS_BAD_INPUT, "--keys: name a key, as in C,D,Bb");
    return US_STATUS_OK;
}

struct run {
    const struct sheet_settings *settings;
    struct us_key keys[KEYS_MAX];
    size_t key_count;
    struct inputs inputs;
    bool folder; /* each tune has a file of its own */
    size_t done, failed;
    enum us_status worst;
};

static enum us_status write_sheets(const struct run *run, const struct us_sheet *sheets, size_t count,
                                   const struct us_tune *tune, FILE *out, struct us_error *error)
{
    enum us_status status = US_STATUS_OK;
    switch (run->settings->format) {
    case FORMAT_TEXT:
        for (size_t i = 0; i < count; i++) {
            if (i) fputc('\n', out);
            us_sheet_text(&sheets[i], screen_width(), out);
        }
        break;
    case FORMAT_MUSICXML: us_sheet_musicxml(sheets, count, out); break;
    case FORMAT_ABC:
        for (size_t i = 0; i < count && !status; i++) {
            if (i) fputc('\n', out);
            status = us_sheet_abc(&sheets[i], tune, (int)i + 1, out, error);
        }
        break;
    default: us_sheet_lilypond(sheets, count, run->settings->large, out); break;
    }
    return status;
}

/* What --to says, or beside us the name of the tune. */
static enum us_status output_path(const struct run *run, const char *input, char *out, size_t size,
                                  struct us_error *error)
{
    const char *to = run->settings->to, *ending = ENDINGS[run->settings->format];
    if (!to || run->folder) return target_path(to, &run->inputs, input, ending, out, size, error);
    if ((size_t)snprintf(out, size, "%s", to) < size) return US_STATUS_OK;
    return us_error_set(error, US_STATUS_BAD_INPUT, "--to %.200s: too long a name; shorten it", to);
}

static enum us_status deliver(const struct run *run, const char *input, const char *bytes, size_t size,
                              struct us_error *error)
{
    char path[PATH_MAX];
    enum sheet_format format = (enum sheet_format)run->settings->format;
    enum us_status status = output_path(run, input, path, sizeof path, error);
    if (!status && run->settings->to) status = target_spares_all(path, &run->inputs, error);
    if (status) return status;
    if (format == FORMAT_PDF || format == FORMAT_PNG) {
        status = us_engrave(bytes, size, path, format == FORMAT_PNG, error);
        if (!status && !run->settings->to)
            fprintf(stderr, "written: %s%s\n", us_plain_line(path, path, sizeof path),
                    format == FORMAT_PNG ? ", or a numbered file a page" : "");
        return status;
    }
    if (run->settings->to) return target_save(path, bytes, size, run->folder, error);
    if (run->done) putchar('\n');
    fwrite(bytes, 1, size, stdout);
    return printed(error);
}

/* A tune without a title bears the name of its file. */
static void name_sheet(struct us_sheet *sheet, const char *path)
{
    const char *slash = strrchr(path, '/'), *name = slash ? slash + 1 : path, *dot = strrchr(name, '.');
    int length = dot && dot != name ? (int)(dot - name) : (int)strlen(name);
    if (*sheet->title) return;
    snprintf(sheet->title, sizeof sheet->title, "%.*s", length, name);
    us_plain_line(sheet->title, sheet->title, sizeof sheet->title);
}

static enum us_status arrange_keys(const struct run *run, const char *path, const struct us_tune *tune,
                                   struct us_sheet *sheets, size_t *count, struct us_error *error)
{
    const struct sheet_settings *s = run->settings;
    struct us_sheet_settings settings = {.metre = s->metre,
                                         .pickup = s->pickup,
                                         .chords = (enum us_chords)s->chords,
                                         .change = (enum us_change)s->change,
                                         .texture = (enum us_texture)s->texture,
                                         .left_hand = !s->chords_only,
                                         .fingering = s->fingering,
                                         .span_semitones = s->span,
                                         .under = (enum us_sheet_under)s->under,
                                         .syllables = (enum us_syllables)s->syllables};
    enum us_status status = US_STATUS_OK;
    for (*count = 0; *count < run->key_count && !status; *count += !status) {
        settings.key = run->keys[*count];
        status = us_sheet_arrange(&sheets[*count], tune, &settings, path, error);
        if (!status) name_sheet(&sheets[*count], path);
    }
    return status;
}

static enum us_status make_sheet(const struct run *run, const char *path, struct us_error *error)
{
    struct us_tune_file file;
    struct us_sheet sheets[KEYS_MAX];
    size_t count = 0, size = 0;
    char *bytes = NULL;
    enum us_status status = us_tune_load_number(path, run->settings->number, &file, error);
    if (!status) status = us_tune_straighten(&file, error);
    if (status) {
        us_tune_file_finish(&file);
        return status;
    }
    status = arrange_keys(run, path, &file.tune, sheets, &count, error);
    FILE *memory = status ? NULL : open_memstream(&bytes, &size);
    if (!status && !memory) status = us_error_no_memory(error);
    if (memory) {
        status = write_sheets(run, sheets, count, &file.tune, memory, error);
        if (fclose(memory) && !status) status = us_error_no_memory(error);
    }
    if (!status) status = deliver(run, path, bytes, size, error);
    for (size_t i = 0; i < count; i++)
        us_sheet_finish(&sheets[i]);
    us_tune_file_finish(&file);
    free(bytes);
    return status;
}

static void run_all(struct run *run)
{
    size_t count = run->inputs.count;
    bool progress = count > 1 && isatty(STDERR_FILENO) && (run->settings->to || !isatty(STDOUT_FILENO));
    for (size_t i = 0; i < count; i++) {
        struct us_error error;
        enum us_status status = make_sheet(run, run->inputs.paths[i], &error);
        if (status) {
            if (progress) screen_clear_line();
            report_error(&error);
            run->failed++;
            if (!run->worst) run->worst = status;
        } else {
            run->done++;
        }
        if (progress) screen_progress(i + 1, count);
    }
    if (count > 1)
        fprintf(stderr, "%zu sheet%s written, %zu failed\n", run->done, run->done == 1 ? "" : "s",
                run->failed);
}

static enum us_status check_target(struct run *run, struct us_error *error)
{
    const struct sheet_settings *s = run->settings;
    enum us_status status = target_folder(s->to, run->inputs.count, &run->folder, error);
    if (status) return status;
    if (run->inputs.count > 1 && !run->folder && s->format != FORMAT_TEXT)
        return us_error_set(error, US_STATUS_BAD_INPUT,
                            "--format %s: there are %zu tunes, so give --to FOLDER", FORMATS[s->format],
                            run->inputs.count);
    return US_STATUS_OK;
}

static int run_sheet(const void *settings)
{
    struct sheet_settings given = *(const struct sheet_settings *)settings;
    struct run run = {.settings = &given};
    struct us_error error;
    if (given.format == FORMAT_AUTO)
        given.format = target_format(given.to, ENDINGS, FORMAT_AUTO, FORMAT_TEXT);
    enum us_status status = parse_keys(run.settings->keys, run.keys, &run.key_count, &error);
    if (!status) status = inputs_collect(&run.settings->files, &run.inputs, &error);
    if (status) return report_error(&error);
    status = check_target(&run, &error);
    if (!status) run_all(&run);
    inputs_finish(&run.inputs);
    return status ? report_error(&error) : us_status_exit_code(run.worst);
}

const struct command command_sheet = {
    .name = "sheet",
    .summary = "write the lesson sheet of a tune in any keys",
    .arguments = "FILE...",
    .options = OPTIONS,
    .option_count = sizeof OPTIONS / sizeof *OPTIONS,
    .settings_size = sizeof(struct sheet_settings),
    .rest_offset = AT(files),
    .run = run_sheet,
};
