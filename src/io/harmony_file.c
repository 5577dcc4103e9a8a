#include "undersong/harmony_file.h"

#include <errno.h>
#include <math.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

#include "undersong/file_save.h"

/* The tables' parts in the order of the file. */
enum part_kind { PART_BYTES, PART_NUMBERS, PART_LAYERS };
struct part {
    const char *name;
    enum part_kind kind;
    size_t at, count;
};
#define COUNT(type, member) (sizeof(((type *)0)->member) / sizeof(float))
#define BYTES(member)                                                                                        \
    {                                                                                                        \
#member, PART_BYTES, offsetof(struct us_harmony_net, member),                                        \
            sizeof(((struct us_harmony_net *)0)->member)                                                     \
    }
#define NUMBERS(member)                                                                                      \
    {                                                                                                        \
#member, PART_NUMBERS, offsetof(struct us_harmony_net, member), COUNT(struct us_harmony_net, member) \
    }
#define TABLE(member)                                                                                        \
    {                                                                                                        \
#member, PART_NUMBERS, offsetof(struct us_harmony_tables, member),                                   \
            COUNT(struct us_harmony_tables, member)                                                          \
    }

static const struct part NET_PARTS[] = {
    {"deep_layers", PART_LAYERS, offsetof(struct us_harmony_net, deep_layers), 1},
    NUMBERS(mix),
    BYTES(first),
    BYTES(deep),
    BYTES(last),
    BYTES(plain),
    NUMBERS(first_scale),
    NUMBERS(first_bias),
    NUMBERS(deep_scale),
    NUMBERS(deep_bias),
    NUMBERS(last_scale),
    NUMBERS(last_bias),
    NUMBERS(plain_scale),
    NUMBERS(plain_bias),
};
static const struct part TABLE_PARTS[] = {
    TABLE(style_whole), TABLE(style_live), TABLE(rate_whole),
    TABLE(rate_live),   TABLE(class_move), TABLE(seventh),
};
enum {
    NET_PART_COUNT = sizeof NET_PARTS / sizeof *NET_PARTS,
    TABLE_PART_COUNT = sizeof TABLE_PARTS / sizeof *TABLE_PARTS
};
enum { NETS = US_WHOLE_NETS + US_LIVE_NETS, FIRST_BYTE = 34, LAST_BYTE = 126, LINE_BYTES = 96 };
static const char HEADING[] = "undersong harmony tables 2";

static size_t net_at(size_t net)
{
    return offsetof(struct us_harmony_tables, whole) + net * sizeof(struct us_harmony_net);
}

/* ---- as C source */
static void write_string(FILE *out, const uint8_t *bytes, size_t count)
{
    for (size_t i = 0; i < count; i++) {
        if (i % LINE_BYTES == 0) fputs(i ? "\"\n\"" : "\n\"", out);
        bool second = bytes[i] == '?' && i % LINE_BYTES && bytes[i - 1] == '?'; /* no trigraph */
        if (bytes[i] == '"' || bytes[i] == '\\' || second) fputc('\\', out);
        fputc(bytes[i], out);
    }
    fputs("\"", out);
}

static void write_numbers(FILE *out, const float *numbers, size_t count)
{
    fputc('{', out);
    for (size_t i = 0; i < count; i++)
        fprintf(out, "%s%.6ef,", i % 8 ? "" : "\n", (double)numbers[i]);
    fputc('}', out);
}

static void write_net(FILE *out, const char *base)
{
    fputs("{", out);
    for (size_t i = 0; i < NET_PART_COUNT; i++) {
        const struct part *p = &NET_PARTS[i];
        fprintf(out, ".%s = ", p->name);
        if (p->kind == PART_LAYERS)
            fprintf(out, "%u", *(const uint8_t *)(base + p->at));
        else if (p->kind == PART_BYTES)
            write_string(out, (const uint8_t *)(base + p->at), p->count);
        else if (p->count == 1)
            fprintf(out, "%.6ef", (double)*(const float *)(const void *)(base + p->at));
        else
            write_numbers(out, (const float *)(const void *)(base + p->at), p->count);
        fputs(",\n", out);
    }
    fputs("},\n", out);
}

static void write_moves(FILE *out, const struct us_harmony_tables *t)
{
    fputs(".class_move = {", out);
    for (int m = 0; m < 2; m++) {
        fputs("{", out);
        for (int i = 0; i < US_HARMONY_CLASSES; i++) {
            write_numbers(out, t->class_move[m][i], US_HARMONY_CLASSES);
            fputs(",\n", out);
        }
        fputs("},\n", out);
    }
    fputs("},\n.seventh = {", out);
    for (int m = 0; m < 2; m++) {
        write_numbers(out, t->seventh[m], US_HARMONY_CLASSES);
        fputs(",\n", out);
    }
    fputs("},\n", out);
}

static void write_rates(FILE *out, const char *name, const float rates[US_RATES][US_RATE_CLUES])
{
    fprintf(out, ".%s = {", name);
    for (int i = 0; i < US_RATES; i++) {
        write_numbers(out, rates[i], US_RATE_CLUES);
        fputs(",\n", out);
    }
    fputs("},\n", out);
}

void us_harmony_tables_write_c(FILE *out, const struct us_harmony_tables *tables, const char *origin)
{
    fprintf(out, "/* %s */\n/* clang-format off */\n#include \"undersong/harmony_tables.h\"\n\n", origin);
    fputs("const struct us_harmony_tables us_harmony_built_in = {\n.whole = {", out);
    for (size_t n = 0; n < NETS; n++) {
        if (n == US_WHOLE_NETS) fputs("},\n.live = {", out);
        write_net(out, (const char *)tables + net_at(n));
    }
    fputs("},\n.style_whole = ", out);
    write_numbers(out, tables->style_whole, US_STYLE_CLUES);
    fputs(",\n.style_live = ", out);
    write_numbers(out, tables->style_live, US_STYLE_CLUES);
    fputs(",\n", out);
    write_rates(out, "rate_whole", tables->rate_whole);
    write_rates(out, "rate_live", tables->rate_live);
    write_moves(out, tables);
    fputs("};\n", out);
}

/* ---- as a file: a line for each part's name, then its bytes in one line or its numbers one a line */
static void save_part(FILE *out, const struct part *p, const char *base)
{
    fprintf(out, "%s\n", p->name);
    if (p->kind == PART_LAYERS) fprintf(out, "%u\n", *(const uint8_t *)(base + p->at));
    if (p->kind == PART_BYTES) {
        fwrite(base + p->at, 1, p->count, out);
        fputc('\n', out);
    }
    for (size_t i = 0; p->kind == PART_NUMBERS && i < p->count; i++)
        fprintf(out, "%.9g\n", (double)((const float *)(const void *)(base + p->at))[i]);
}

enum us_status us_harmony_tables_save(const char *path, const struct us_harmony_tables *tables,
                                      struct us_error *error)
{
    char *text = NULL;
    size_t size = 0;
    FILE *out = open_memstream(&text, &size);
    if (!out) return us_error_no_memory(error);
    fprintf(out, "%s\n", HEADING);
    for (size_t n = 0; n < NETS; n++)
        for (size_t i = 0; i < NET_PART_COUNT; i++)
            save_part(out, &NET_PARTS[i], (const char *)tables + net_at(n));
    for (size_t i = 0; i < TABLE_PART_COUNT; i++)
        save_part(out, &TABLE_PARTS[i], (const char *)tables);
    bool whole = !ferror(out);
    enum us_status status = US_STATUS_OK;
    if (fclose(out) || !whole) status = us_error_no_memory(error);
    if (!status) status = us_file_save(path, text, size, 0600, error);
    free(text);
    return status;
}

struct reading {
    FILE *in;
    const char *path;
    int line;
    char *text; /* the line read last */
    size_t room;
};

static bool next_line(struct reading *r)
{
    ssize_t length = getline(&r->text, &r->room, r->in);
    r->line++;
    if (length > 0 && r->text[length - 1] == '\n') r->text[length - 1] = 0;
    return length > 0;
}

static bool load_bytes(struct reading *r, uint8_t *to, size_t count)
{
    if (!next_line(r) || strlen(r->text) != count) return false;
    for (size_t i = 0; i < count; i++) {
        to[i] = (uint8_t)r->text[i];
        if (to[i] < FIRST_BYTE || to[i] > LAST_BYTE) return false;
    }
    return true;
}

/* Learned numbers stay below 9; far larger ones would multiply to infinity in the networks' layers, and what
   comes of that is no chord. */
static const float MOST = 50;

static bool load_numbers(struct reading *r, float *to, size_t count)
{
    for (size_t i = 0; i < count; i++) {
        char *end;
        if (!next_line(r)) return false;
        to[i] = strtof(r->text, &end);
        if (end == r->text || *end || !(fabsf(to[i]) <= MOST)) return false;
    }
    return true;
}

static bool load_part(struct reading *r, const struct part *p, char *base, int most_layers)
{
    if (!next_line(r) || strcmp(r->text, p->name) != 0) return false;
    if (p->kind == PART_BYTES) return load_bytes(r, (uint8_t *)(base + p->at), p->count);
    if (p->kind == PART_NUMBERS) return load_numbers(r, (float *)(void *)(base + p->at), p->count);
    float layers;
    if (!load_numbers(r, &layers, 1) || layers < 0 || layers > (float)most_layers) return false;
    *(uint8_t *)(base + p->at) = (uint8_t)layers;
    return true;
}

static bool load_all(struct reading *r, struct us_harmony_tables *out)
{
    bool fine = next_line(r) && strcmp(r->text, HEADING) == 0;
    for (size_t n = 0; n < NETS; n++)
        for (size_t i = 0; fine && i < NET_PART_COUNT; i++)
            fine = load_part(r, &NET_PARTS[i], (char *)out + net_at(n),
                             n < US_WHOLE_NETS ? US_NET_DEEP : US_NET_LIVE_DEEP);
    for (size_t i = 0; fine && i < TABLE_PART_COUNT; i++)
        fine = load_part(r, &TABLE_PARTS[i], (char *)out, 0);
    return fine;
}

enum us_status us_harmony_tables_load(const char *path, struct us_harmony_tables *out, struct us_error *error)
{
    struct reading r = {.in = fopen(path, "r"), .path = path};
    if (!r.in) return us_error_set(error, US_STATUS_NOT_FOUND, "%s: %s", path, strerror(errno));
    bool fine = load_all(&r, out);
    fclose(r.in);
    free(r.text);
    if (fine) return US_STATUS_OK;
    return us_error_set(error, US_STATUS_BAD_INPUT,
                        "%s:%d: not what harmonize --learn-from wrote; remove the file or learn again", path,
                        r.line);
}
