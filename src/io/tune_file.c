#include "undersong/tune_file.h"
#include "file_open.h"
#include "undersong/abc.h"
#include "undersong/musicxml.h"
#include "undersong/signs.h"
#include "undersong/smf_tune.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>
#include <sys/stat.h>

/* No tune of one melody comes near these. */
enum { FILE_BYTES_MAX = 16 << 20, BEATS_MAX = 50000 };

enum kind { KIND_UNKNOWN, KIND_ABC, KIND_MIDI, KIND_MUSICXML, KIND_MXL };

static enum us_status read_file(const char *path, char **text, size_t *size, struct us_error *error)
{
    struct stat about;
    FILE *file = file_open(path);
    if (!file)
        return us_error_set(error, US_STATUS_NOT_FOUND, "%s: %s; check the name", path, strerror(errno));
    enum us_status status = US_STATUS_OK;
    *text = NULL;
    if (fstat(fileno(file), &about) || !S_ISREG(about.st_mode))
        status = us_error_set(error, US_STATUS_BAD_INPUT, "%s: not a file; give the tune's own file", path);
    else if (about.st_size > FILE_BYTES_MAX)
        status = us_error_set(error, US_STATUS_BAD_INPUT, "%s: larger than %d megabytes; split it", path,
                              FILE_BYTES_MAX >> 20);
    else if (!(*text = malloc((size_t)about.st_size + 1)))
        status = us_error_set(error, US_STATUS_NO_MEMORY, "%s: no memory left to read it", path);
    if (!status) {
        *size = fread(*text, 1, (size_t)about.st_size, file);
        (*text)[*size] = '\0';
        if (ferror(file))
            status = us_error_set(error, US_STATUS_IO, "%s: cannot be read; check the disk", path);
    }
    fclose(file);
    if (status) free(*text);
    return status;
}

static enum kind kind_of(const char *path, const char *text, size_t size)
{
    static const struct {
        const char *ending;
        enum kind kind;
    } ENDINGS[] = {{".abc", KIND_ABC},           {".mid", KIND_MIDI},     {".midi", KIND_MIDI},
                   {".musicxml", KIND_MUSICXML}, {".xml", KIND_MUSICXML}, {".mxl", KIND_MXL}};
    if (size >= 4 && memcmp(text, "MThd", 4) == 0) return KIND_MIDI;
    if (size >= 4 && memcmp(text, "PK\3\4", 4) == 0) return KIND_MXL;
    const char *dot = strrchr(path, '.');
    for (size_t i = 0; dot && i < sizeof ENDINGS / sizeof *ENDINGS; i++)
        if (strcasecmp(dot, ENDINGS[i].ending) == 0) return ENDINGS[i].kind;
    if (size >= 5 && memcmp(text, "<?xml", 5) == 0) return KIND_MUSICXML;
    if (memmem(text, size, "\nK:", 3) || memmem(text, size, "X:", 2)) return KIND_ABC;
    return KIND_UNKNOWN;
}

/* Bars, chords and pages grow with the beats, and a small file may ask for millions of them. */
static enum us_status check_length(const struct us_tune *tune, const char *path, struct us_error *error)
{
    const struct us_note *last = tune->note_count ? &tune->notes[tune->note_count - 1] : NULL;
    double quarters = last ? last->at + last->len : 0;
    double beats = quarters / (tune->metre.top ? us_metre_beat_quarters(tune->metre) : 1);
    if (beats <= BEATS_MAX) return US_STATUS_OK;
    return us_error_set(error, US_STATUS_BAD_INPUT,
                        "%s: %.0f beats long, and a tune has at most %d; give a shorter part of it", path,
                        beats, BEATS_MAX);
}

enum us_status us_tune_load_number(const char *path, int number, struct us_tune_file *out,
                                   struct us_error *error)
{
    char *text;
    size_t size;
    memset(out, 0, sizeof *out);
    enum us_status status = read_file(path, &text, &size, error);
    if (status) return status;
    switch (kind_of(path, text, size)) {
    case KIND_ABC: status = us_abc_read(text, size, path, number, out, error); break;
    case KIND_MIDI: status = us_smf_tune(text, size, path, out, error); break;
    case KIND_MUSICXML: status = us_musicxml_read(text, size, path, out, error); break;
    case KIND_MXL: status = us_mxl_read(text, size, path, out, error); break;
    case KIND_UNKNOWN:
        status =
            us_error_set(error, US_STATUS_BAD_INPUT,
                         "%s: no tune that can be read; give a .abc, .mid, .musicxml or .mxl file", path);
    }
    free(text);
    if (!status && (status = check_length(&out->tune, path, error))) us_tune_file_finish(out);
    return status;
}

enum us_status us_tune_load(const char *path, struct us_tune_file *out, struct us_error *error)
{
    return us_tune_load_number(path, 0, out, error);
}

static enum us_status list_one(const char *path, struct us_tune_entry **out, size_t *count,
                               struct us_error *error)
{
    struct us_tune_file file;
    enum us_status status = us_tune_load(path, &file, error);
    if (status) return status;
    *out = calloc(1, sizeof **out);
    if (*out) {
        *count = 1;
        (*out)->number = file.number;
        us_cut_text(file.tune.title, (*out)->title, sizeof(*out)->title);
    } else {
        status = us_error_set(error, US_STATUS_NO_MEMORY, "%s: no memory left for the list", path);
    }
    us_tune_file_finish(&file);
    return status;
}

enum us_status us_tune_list(const char *path, struct us_tune_entry **out, size_t *count,
                            struct us_error *error)
{
    char *text;
    size_t size;
    *out = NULL;
    *count = 0;
    enum us_status status = read_file(path, &text, &size, error);
    if (status) return status;
    bool abc = kind_of(path, text, size) == KIND_ABC;
    if (abc) status = us_abc_list(text, size, path, out, count, error);
    free(text);
    return abc ? status : list_one(path, out, count, error);
}

void us_tune_file_finish(struct us_tune_file *file)
{
    if (!file) return;
    free(file->notes);
    free(file->spelling);
    free(file->second);
    free(file->chords);
    free(file->bars);
    free(file->slurs);
    free(file->lines);
    free(file->title);
    free(file->composer);
    memset(file, 0, sizeof *file);
}
