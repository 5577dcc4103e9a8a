#include "corpus.h"

#include <dirent.h>
#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "undersong/smf.h"

/* How many notes make an opening: six, five intervals. */
enum { OPENING_NOTES = 6 };

static bool ends_with(const char *text, const char *end)
{
    size_t n = strlen(text), m = strlen(end);
    return n >= m && strcmp(text + n - m, end) == 0;
}

static void *grown(void *list, size_t count, size_t size)
{
    if (count & (count - 1)) return list;
    return realloc(list, (count ? 2 * count : 1) * size);
}

static int note_order(const void *a, const void *b)
{
    const struct us_note *x = a, *y = b;
    if (x->at != y->at) return x->at < y->at ? -1 : 1;
    return x->pitch - y->pitch;
}

static enum us_status notes_of(const struct us_smf *smf, struct us_tune *tune, struct us_error *error)
{
    double from[US_PITCHES];
    bool down[US_PITCHES] = {false};
    struct us_note *notes = NULL;
    size_t count = 0;
    for (size_t i = 0; i < smf->count; i++) {
        const struct us_smf_event *e = &smf->events[i];
        bool on = (e->status & 0xF0) == 0x90, off = (e->status & 0xF0) == 0x80;
        if ((on || off) && down[e->data1]) {
            struct us_note *more = grown(notes, count, sizeof *notes);
            if (!more) {
                free(notes);
                return us_error_no_memory(error);
            }
            notes = more;
            notes[count++] = (struct us_note){from[e->data1], e->at_quarters - from[e->data1], e->data1, 80};
            down[e->data1] = false;
        }
        if (on) {
            down[e->data1] = true;
            from[e->data1] = e->at_quarters;
        }
    }
    if (count) qsort(notes, count, sizeof *notes, note_order);
    tune->notes = notes;
    tune->note_count = count;
    return US_STATUS_OK;
}

static void read_head(struct corpus_tune *t, const char *name, const char *value)
{
    if (strcmp(name, "meter") == 0 && !us_metre_parse(value, &t->tune.metre)) t->grid_sure = false;
    if (strcmp(name, "tonic_pc") == 0) t->key.tonic = (int8_t)us_pitch_class(atoi(value));
    if (strcmp(name, "mode") == 0) t->key.mode = strcmp(value, "minor") == 0 ? US_MODE_MINOR : US_MODE_MAJOR;
    if (strcmp(name, "upbeat_quarters") == 0) t->tune.pickup = atof(value);
    if (strcmp(name, "grid_ok") == 0 && strcmp(value, "0") == 0) t->grid_sure = false;
    if (strcmp(name, "key_suspect") == 0 && strcmp(value, "1") == 0) t->key_sure = false;
}

static bool read_chord(const char *line, struct us_chord_span *span)
{
    char kind[16];
    int root;
    if (sscanf(line, "%lf %lf %d %15s", &span->at, &span->len, &root, kind) != 4) return false;
    for (int k = 0; k < US_CHORD_KINDS; k++)
        if (strcmp(kind, us_chord_kind_name((enum us_chord_kind)k)) == 0) {
            span->chord = (struct us_chord){(int8_t)us_pitch_class(root), (uint8_t)k};
            return true;
        }
    /* a chord outside the five kinds: its root counts, and no role is denied to it as to a major chord */
    span->chord = (struct us_chord){(int8_t)us_pitch_class(root), US_CHORD_MIN7};
    return strcmp(kind, "other") == 0 || strcmp(kind, "aug") == 0;
}

static enum us_status read_labels(struct corpus_tune *t, FILE *in, const char *path, struct us_error *error)
{
    struct us_chord_span *chords = NULL;
    size_t count = 0;
    char line[4096], name[32], value[64];
    for (int number = 1; fgets(line, sizeof line, in); number++) {
        if (sscanf(line, "# %31s %63[^\n]", name, value) == 2) {
            read_head(t, name, value);
        } else if (line[0] != '#' && line[0] != '\n') {
            struct us_chord_span *more = grown(chords, count, sizeof *chords);
            if (more) chords = more;
            if (more && read_chord(line, &chords[count++])) continue;
            free(chords);
            if (!more) return us_error_no_memory(error);
            return us_error_set(error, US_STATUS_BAD_INPUT,
                                "%s:%d: no chord; write start, length, root and kind", path, number);
        }
    }
    t->tune.chords = chords;
    t->tune.chord_count = count;
    return US_STATUS_OK;
}

bool corpus_is_hymn(const struct corpus_tune *t)
{
    return strncmp(t->style, "hymn", 4) == 0;
}

uint32_t corpus_hash(const struct us_note *notes, size_t count)
{
    uint32_t hash = 2166136261u; /* FNV-1a */
    for (size_t i = 1; i < count; i++)
        hash = (hash ^ (uint32_t)(notes[i].pitch - notes[i - 1].pitch + 128)) * 16777619u;
    return hash;
}

static int fold_of(const struct us_tune *tune)
{
    size_t notes = tune->note_count < OPENING_NOTES ? tune->note_count : OPENING_NOTES;
    return (int)((corpus_hash(tune->notes, notes) >> 8) % CORPUS_FOLDS);
}

static void tune_finish(struct corpus_tune *t)
{
    free((void *)t->tune.notes);
    free((void *)t->tune.chords);
}

/* `base` is the path without its ending. */
static enum us_status load_tune(struct corpus_tune *t, const char *base, struct us_error *error)
{
    char path[1200];
    struct us_smf smf;
    *t = (struct corpus_tune){.key_sure = true, .grid_sure = true, .key = {US_NO_KEY, US_MODE_MAJOR}};
    t->tune.title = t->tune.composer = "";
    const char *slash = strrchr(base, '/');
    snprintf(t->id, sizeof t->id, "%s", slash ? slash + 1 : base);
    snprintf(path, sizeof path, "%s.mid", base);
    enum us_status status = us_smf_load(&smf, path, error);
    if (status) return status;
    status = notes_of(&smf, &t->tune, error);
    us_smf_finish(&smf);
    if (status) return status;
    snprintf(path, sizeof path, "%s.tsv", base);
    FILE *in = fopen(path, "r");
    if (!in) status = us_error_set(error, US_STATUS_NOT_FOUND, "%s: %s", path, strerror(errno));
    if (in) {
        status = read_labels(t, in, path, error);
        fclose(in);
    }
    if (status) {
        tune_finish(t);
        return status;
    }
    if (t->key.tonic == US_NO_KEY) t->key_sure = false;
    if (t->tune.metre.top == 0) t->grid_sure = false;
    t->tune.key = t->key;
    t->fold = fold_of(&t->tune);
    return US_STATUS_OK;
}

static int is_entry(const struct dirent *entry)
{
    return entry->d_name[0] != '.';
}

static enum us_status load_folder(struct corpus *corpus, const char *path, const char *style, bool styles,
                                  struct us_error *error)
{
    struct dirent **entries;
    int count = scandir(path, &entries, is_entry, alphasort);
    if (count < 0) return us_error_set(error, US_STATUS_NOT_FOUND, "%s: %s", path, strerror(errno));
    enum us_status status = US_STATUS_OK;
    for (int i = 0; i < count; i++) {
        char inner[1100];
        const char *name = entries[i]->d_name;
        bool labels = ends_with(name, ".tsv") && !ends_with(name, ".beats.tsv");
        snprintf(inner, sizeof inner, "%.800s/%s", path, name);
        if (!status && styles && !strchr(name, '.')) status = load_folder(corpus, inner, name, false, error);
        if (!status && labels) {
            inner[strlen(inner) - 4] = 0;
            struct corpus_tune *more = grown(corpus->tunes, corpus->count, sizeof *more);
            if (more) corpus->tunes = more;
            status = more ? load_tune(&more[corpus->count], inner, error) : us_error_no_memory(error);
            if (!status) snprintf(more[corpus->count++].style, sizeof more->style, "%s", style);
        }
        free(entries[i]);
    }
    free(entries);
    return status;
}

enum us_status corpus_load(struct corpus *corpus, const char *path, struct us_error *error)
{
    const char *slash = strrchr(path, '/');
    *corpus = (struct corpus){NULL, 0};
    enum us_status status = load_folder(corpus, path, slash ? slash + 1 : path, true, error);
    if (!status && corpus->count == 0)
        status =
            us_error_set(error, US_STATUS_NOT_FOUND, "%s: no tunes; it needs NAME.mid beside NAME.tsv", path);
    if (!status && !corpus_join_folds(corpus)) status = us_error_no_memory(error);
    if (status) corpus_finish(corpus);
    return status;
}

void corpus_finish(struct corpus *corpus)
{
    for (size_t i = 0; i < corpus->count; i++)
        tune_finish(&corpus->tunes[i]);
    free(corpus->tunes);
    *corpus = (struct corpus){NULL, 0};
}
