/* Any bytes as the file of a teacher's own tables: refused with one line that names the place, or read as
   numbers by which a tune, whole and live, is harmonized with chords of the scale's notes and probabilities.
   As a whole file is 250 KB of numbers, bytes that begin otherwise than with its heading are changes to the
   lines of the built-in tables' file: the line, how, and with what. */
#include <math.h>
#include <string.h>
#include <sys/mman.h>
#include <unistd.h>

#include "fuzz.h"
#include "undersong/harmony.h"
#include "undersong/harmony_file.h"

enum { LINES_MAX = 1 << 14, CHANGE_BYTES = 4, CHANGES_MAX = 16, NOTES = 24, BEATS_MAX = 64 };

struct lines {
    const char *at[LINES_MAX];
    size_t length[LINES_MAX], count;
    char *text;
    size_t size;
};

static char path[40];
static int fd = -1;

static void fill_file(const void *bytes, size_t size)
{
    if (ftruncate(fd, 0) || (size && pwrite(fd, bytes, size, 0) != (ssize_t)size)) abort();
}

static void open_file(void)
{
    fd = memfd_create("tables", 0);
    if (fd < 0) abort();
    snprintf(path, sizeof path, "/proc/self/fd/%d", fd);
}

/* The file of the built-in tables, by lines. */
static const struct lines *built_in(void)
{
    static struct lines l;
    struct us_error error;
    if (l.count) return &l;
    char saved[] = "/tmp/fuzz-tables-XXXXXX";
    int made = mkstemp(saved);
    if (made < 0 || us_harmony_tables_save(saved, &us_harmony_built_in, &error)) abort();
    close(made);
    FILE *in = fopen(saved, "r");
    l.text = malloc(1 << 20);
    if (!in || !l.text) abort();
    l.size = fread(l.text, 1, 1 << 20, in);
    fclose(in);
    unlink(saved);
    for (size_t at = 0; at < l.size && l.count < LINES_MAX; l.count++) {
        l.at[l.count] = l.text + at;
        l.length[l.count] = strcspn(l.text + at, "\n");
        at += l.length[l.count] + 1;
    }
    return &l;
}

/* A line in another form: a number of another size or sign, none, cut, or with another byte. */
static void change(FILE *out, const char *line, size_t length, const uint8_t *how)
{
    int with = how[3];
    switch (how[2] % 5) {
    case 0: fprintf(out, "%s%de%d\n", with & 1 ? "-" : "", with >> 4, with >> 1 & 7); break;
    case 1: fprintf(out, "%s\n", with & 1 ? "nan" : "inf"); break;
    case 2: break;
    case 3: fprintf(out, "%.*s\n", (int)(length * (size_t)with / 256), line); break;
    default:
        fwrite(line, 1, length, out);
        fputc(with, out);
        fputc('\n', out);
        break;
    }
}

static void fill_changed(const uint8_t *data, size_t size)
{
    const struct lines *l = built_in();
    size_t changes = size / CHANGE_BYTES, written = 0;
    char *text = NULL;
    FILE *out = open_memstream(&text, &written);
    if (!out) abort();
    if (changes > CHANGES_MAX) changes = CHANGES_MAX;
    for (size_t i = 0; i < l->count; i++) {
        const uint8_t *how = NULL;
        for (size_t c = 0; c < changes && !how; c++) {
            const uint8_t *this = data + c * CHANGE_BYTES;
            if (((size_t)this[0] << 8 | this[1]) % l->count == i) how = this;
        }
        if (how)
            change(out, l->at[i], l->length[i], how);
        else
            fprintf(out, "%.*s\n", (int)l->length[i], l->at[i]);
    }
    fclose(out);
    fill_file(text, written);
    free(text);
}

static void check_choice(const struct us_choice *choice)
{
    double sum = 0;
    FUZZ_CHECK(choice->chord.root >= 0 && choice->chord.root < US_PITCH_CLASSES &&
               choice->chord.kind < US_CHORD_KINDS);
    FUZZ_CHECK(choice->probability >= 0 && choice->probability <= 1.001);
    for (int role = 0; role < US_ROLES; role++) {
        FUZZ_CHECK(choice->role[role] >= 0);
        sum += choice->role[role];
    }
    FUZZ_CHECK(fabs(sum - 1) < 1e-3);
}

static int pitch_of(int note)
{
    static const int PITCHES[] = {60, 64, 67, 65, 69, 62, 71, 72};
    return PITCHES[note % 8];
}

static void harmonize(const struct us_harmony_tables *tables)
{
    static struct us_chord_choice chords[BEATS_MAX];
    struct us_note notes[NOTES];
    for (int i = 0; i < NOTES; i++)
        notes[i] = (struct us_note){.at = i, .len = 1, .pitch = (int16_t)pitch_of(i), .velocity = 80};
    struct us_tune tune = {.notes = notes, .note_count = NOTES, .key = {0, US_MODE_MAJOR}, .metre = {4, 4}};
    struct us_harmony_request request = {
        .tune = &tune, .key = tune.key, .metre = tune.metre, .chords = US_CHORDS_WIDE, .tables = tables};
    void *workspace = malloc(us_harmony_workspace_size(&request));
    if (!workspace) abort();
    size_t count = us_harmony_tune(&request, workspace, chords, BEATS_MAX, NULL);
    for (size_t i = 0; i < count; i++)
        check_choice(&chords[i].choice);
    free(workspace);
}

static void listen(const struct us_harmony_tables *tables)
{
    static struct us_harmony_live h;
    const struct us_key key = {0, US_MODE_MAJOR};
    us_harmony_live_init(&h, tables, US_CHORDS_WIDE, US_CHANGE_AUTO);
    for (int i = 0; i < NOTES; i++) {
        struct us_position at = {{4, 4}, i / 4, i % 4, i % 4 == 0, true};
        struct us_choice choice;
        us_harmony_live_note(&h, key, &at, pitch_of(i));
        us_harmony_live_decide(&h, key, &at, &choice);
        check_choice(&choice);
        us_harmony_live_rest(&h);
    }
    us_harmony_live_over(&h);
    while (!us_harmony_live_settle(&h)) {
    }
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    static struct us_harmony_tables tables;
    static const char HEADING[] = "undersong";
    struct us_error error = {0};
    if (fd < 0) open_file();
    if (size >= strlen(HEADING) && memcmp(data, HEADING, strlen(HEADING)) == 0)
        fill_file(data, size);
    else
        fill_changed(data, size);
    if (us_harmony_tables_load(path, &tables, &error)) {
        FUZZ_CHECK(error.status == US_STATUS_BAD_INPUT && error.text[0] && !strchr(error.text, '\n'));
        FUZZ_CHECK(strncmp(error.text, path, strlen(path)) == 0);
        return 0;
    }
    harmonize(&tables);
    listen(&tables);
    return 0;
}
