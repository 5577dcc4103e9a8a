/* A MusicXML score: its parts, voices and measures. */
#include "musicxml_reader.h"
#include "undersong/signs.h"

#include <libxml/xmlerror.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum us_status mx_error(const struct mx_reader *reader, const xmlNode *node, const char *format, ...)
{
    char what[300];
    va_list args;
    va_start(args, format);
    vsnprintf(what, sizeof what, format, args);
    va_end(args);
    return us_error_set(reader->error, US_STATUS_BAD_INPUT, "%s:%ld: %s", reader->name,
                        node ? xmlGetLineNo(node) : 1L, what);
}

enum us_status mx_no_memory(const struct mx_reader *reader)
{
    return us_error_set(reader->error, US_STATUS_NO_MEMORY, "%s: no memory left for the score", reader->name);
}

bool mx_is(const xmlNode *node, const char *name)
{
    return node->type == XML_ELEMENT_NODE && strcmp((const char *)node->name, name) == 0;
}

xmlNode *mx_child(const xmlNode *node, const char *name)
{
    for (xmlNode *child = node ? node->children : NULL; child; child = child->next)
        if (mx_is(child, name)) return child;
    return NULL;
}

/* The text that stands there itself, as much as there is room for, without space around it.  What an entity
   of the file's own stands for is left out: a few lines of these can mean gigabytes. */
static char *plain_text(const xmlNode *first, char *out, size_t size)
{
    size_t used = 0;
    for (const xmlNode *node = first; node; node = node->next) {
        if (node->type != XML_TEXT_NODE && node->type != XML_CDATA_SECTION_NODE) continue;
        const char *text = node->content ? (const char *)node->content : "";
        if (!used) text += strspn(text, " \t\r\n");
        used += strlen(us_cut_text(text, out + used, size - used));
    }
    while (used && strchr(" \t\r\n", out[used - 1]))
        used--;
    out[used] = '\0';
    return out;
}

char *mx_text(const xmlNode *node, const char *name, char *out, size_t size)
{
    const xmlNode *child = mx_child(node, name);
    return plain_text(child ? child->children : NULL, out, size);
}

char *mx_attribute(const xmlNode *node, const char *name, char *out, size_t size)
{
    const xmlAttr *attribute = node && node->type == XML_ELEMENT_NODE ? node->properties : NULL;
    while (attribute && strcmp((const char *)attribute->name, name) != 0)
        attribute = attribute->next;
    return plain_text(attribute ? attribute->children : NULL, out, size);
}

double mx_number(const xmlNode *node, const char *name, double otherwise)
{
    char text[32], *end;
    mx_text(node, name, text, sizeof text);
    double value = strtod(text, &end);
    return end == text || !(value > -1e9 && value < 1e9) ? otherwise : value;
}

/* The part number `part`, from 0, among the children of `node`; NULL where there are not so many. */
static xmlNode *nth_part(const xmlNode *node, size_t part)
{
    xmlNode *p = mx_child(node, "part");
    for (size_t i = 0; i < part && p;)
        if ((p = p->next) && mx_is(p, "part")) i++;
    return p;
}

/* Measures of one part: children of the part, or in a score by measure the part inside each. */
static xmlNode *next_measure(xmlNode *root, size_t part, xmlNode *before)
{
    if (mx_is(root, "score-partwise")) {
        xmlNode *node = before ? before->next : NULL;
        if (!before) {
            const xmlNode *p = nth_part(root, part);
            node = p ? p->children : NULL;
        }
        while (node && !mx_is(node, "measure"))
            node = node->next;
        return node;
    }
    xmlNode *measure = before ? before->parent->next : root->children;
    for (; measure; measure = measure->next) {
        if (!mx_is(measure, "measure")) continue;
        xmlNode *p = nth_part(measure, part);
        if (p) return p;
    }
    return NULL;
}

static enum us_status element(struct mx_reader *reader, const xmlNode *node)
{
    char text[8];
    if (mx_is(node, "note")) return mx_note(reader, node);
    if (mx_is(node, "backup")) return mx_move(reader, node, -1);
    if (mx_is(node, "forward")) return mx_move(reader, node, 1);
    if (mx_is(node, "attributes")) return mx_attributes(reader, node);
    if (reader->voice) return US_STATUS_OK;
    if (mx_is(node, "harmony")) return mx_harmony(reader, node);
    if (mx_is(node, "barline")) return mx_barline(reader, node);
    if (mx_is(node, "direction") || mx_is(node, "sound")) mx_sound(reader, node);
    if (mx_is(node, "print") && strcmp(mx_attribute(node, "new-system", text, sizeof text), "yes") == 0)
        reader->line = true;
    return US_STATUS_OK;
}

static enum us_status close_measure(struct mx_reader *reader, const xmlNode *node)
{
    struct us_written *out = reader->out;
    int64_t length = reader->furthest;
    if (length <= 0) length = us_written_ticks(us_metre_bar_quarters(reader->metre));
    if (out->bar_count >= US_WRITTEN_BARS_MAX || reader->base + length > US_WRITTEN_TICKS_MAX)
        return mx_error(reader, node, "the score is too long; split it");
    if (!us_grow((void **)&out->bars, &out->bar_room, out->bar_count, sizeof *out->bars))
        return mx_no_memory(reader);
    reader->bar.at = reader->base;
    reader->bar.len = length;
    reader->bar.metre = reader->metre;
    reader->bar.key = reader->key;
    out->bars[out->bar_count++] = reader->bar;
    reader->base += length;
    return US_STATUS_OK;
}

static void open_measure(struct mx_reader *reader)
{
    if (reader->voice) reader->base = reader->out->bars[reader->measure].at;
    reader->cursor = reader->furthest = reader->last_from = 0;
    reader->last_note = -1;
    reader->bar = (struct us_written_bar){0};
}

/* Fills one voice of the page from the notes of part `part` whose voice is `filter`. */
static enum us_status read_part(struct mx_reader *reader, xmlNode *root, size_t part, int voice,
                                const char *filter)
{
    reader->voice = voice;
    snprintf(reader->filter, sizeof reader->filter, "%s", filter);
    reader->divisions = 1;
    reader->transpose = 0;
    reader->base = 0;
    reader->measure = 0;
    for (xmlNode *m = next_measure(root, part, NULL); m; m = next_measure(root, part, m)) {
        if (voice && reader->measure >= reader->out->bar_count) break;
        open_measure(reader);
        for (const xmlNode *node = m->children; node; node = node->next) {
            enum us_status status = node->type == XML_ELEMENT_NODE ? element(reader, node) : US_STATUS_OK;
            if (status) return status;
        }
        enum us_status status = voice ? US_STATUS_OK : close_measure(reader, m);
        if (status) return status;
        reader->measure++;
    }
    return US_STATUS_OK;
}

/* The voices of the part, in the order in which they first sound; at most two.  Only the upper staff. */
static int find_voices(xmlNode *root, size_t part, char names[2][16])
{
    int count = 0;
    for (xmlNode *m = next_measure(root, part, NULL); m; m = next_measure(root, part, m))
        for (const xmlNode *node = m->children; node && count < 2; node = node->next) {
            char name[16], staff[8];
            if (!mx_is(node, "note") || !mx_child(node, "pitch")) continue;
            mx_text(node, "staff", staff, sizeof staff);
            if (*staff && strcmp(staff, "1") != 0) continue;
            mx_text(node, "voice", name, sizeof name);
            if (count && strcmp(names[0], name) == 0) continue;
            memcpy(names[count++], name, sizeof name);
        }
    return count;
}

static int compare_notes(const void *a, const void *b)
{
    const struct us_written_note *x = a, *y = b;
    return (x->at > y->at) - (x->at < y->at);
}

static int compare_chords(const void *a, const void *b)
{
    const struct us_written_chord *x = a, *y = b;
    return (x->at > y->at) - (x->at < y->at);
}

/* In order of time; a note ends where the next one starts. */
static void put_in_order(struct us_written *out)
{
    if (out->chord_count) qsort(out->chords, out->chord_count, sizeof *out->chords, compare_chords);
    for (int v = 0; v < US_WRITTEN_VOICES; v++) {
        struct us_written_note *notes = out->notes[v];
        if (out->note_count[v]) qsort(notes, out->note_count[v], sizeof *notes, compare_notes);
        size_t kept = 0;
        for (size_t i = 0; i < out->note_count[v]; i++) {
            if (kept && notes[kept - 1].at == notes[i].at) continue;
            if (kept && notes[kept - 1].at + notes[kept - 1].len > notes[i].at)
                notes[kept - 1].len = notes[i].at - notes[kept - 1].at;
            notes[kept++] = notes[i];
        }
        out->note_count[v] = kept;
    }
}

/* Where no mode is given, a tune that ends on the minor's keynote is taken for minor. */
static void guess_mode(struct mx_reader *reader)
{
    struct us_written *out = reader->out;
    if (reader->has_mode || !reader->has_key || !out->note_count[0]) return;
    int last = out->notes[0][out->note_count[0] - 1].pitch;
    bool minor = us_pitch_class(last) == us_pitch_class(out->key.tonic + 9);
    for (size_t i = 0; i < out->bar_count && minor; i++)
        if (out->bars[i].key.tonic != US_NO_KEY)
            out->bars[i].key =
                (struct us_key){(int8_t)us_pitch_class(out->bars[i].key.tonic + 9), US_MODE_MINOR};
    if (minor) out->key = (struct us_key){(int8_t)us_pitch_class(out->key.tonic + 9), US_MODE_MINOR};
}

static void read_head(const xmlNode *root, struct us_written *out)
{
    mx_text(mx_child(root, "work"), "work-title", out->title, sizeof out->title);
    if (!*out->title) mx_text(root, "movement-title", out->title, sizeof out->title);
    const xmlNode *who = mx_child(root, "identification");
    for (const xmlNode *node = who ? who->children : NULL; node; node = node->next) {
        char type[16];
        if (!mx_is(node, "creator")) continue;
        mx_attribute(node, "type", type, sizeof type);
        if (strcmp(type, "composer") == 0 && !*out->composer)
            plain_text(node->children, out->composer, sizeof out->composer);
    }
    out->number = 1;
}

static enum us_status read_score(struct mx_reader *reader, xmlNode *root)
{
    char names[2][16] = {"", ""};
    if (!root || (!mx_is(root, "score-partwise") && !mx_is(root, "score-timewise")))
        return mx_error(reader, root, "no MusicXML score; export the tune as MusicXML");
    read_head(root, reader->out);
    int voices = find_voices(root, 0, names);
    if (!voices) return mx_error(reader, root, "the first part has no notes; put the melody there");
    enum us_status status = read_part(reader, root, 0, 0, names[0]);
    if (!status && voices == 2) status = read_part(reader, root, 0, 1, names[1]);
    if (!status && voices == 1 && find_voices(root, 1, names))
        status = read_part(reader, root, 1, 1, names[0]);
    put_in_order(reader->out);
    guess_mode(reader);
    return status;
}

static enum us_status syntax_error(const char *name, struct us_error *error)
{
    const xmlError *last = xmlGetLastError();
    char what[200];
    snprintf(what, sizeof what, "%s", last && last->message ? last->message : "no XML");
    what[strcspn(what, "\r\n")] = '\0';
    return us_error_set(error, US_STATUS_BAD_INPUT, "%s:%d: %s; export the score again", name,
                        last ? last->line : 1, what);
}

/* The XML library compares each attribute of an element with all others, and a megabyte of them took minutes.
   The line where one tag has too many, 0 where none has.  No tag has a '<' inside. */
static int crowded_line(const char *text, size_t size)
{
    enum { ATTRIBUTES_MOST = 1000 };
    int attributes = 0, line = 1;
    for (size_t i = 0; i < size; i++) {
        line += text[i] == '\n';
        attributes = text[i] == '<' ? 0 : attributes + (text[i] == '=');
        if (attributes > ATTRIBUTES_MOST) return line;
    }
    return 0;
}

enum us_status us_musicxml_read(const char *text, size_t size, const char *name, struct us_tune_file *out,
                                struct us_error *error)
{
    struct us_written written;
    memset(out, 0, sizeof *out);
    if (size > INT32_MAX / 2)
        return us_error_set(error, US_STATUS_BAD_INPUT, "%s: too large for a score; split it", name);
    int crowded = crowded_line(text, size);
    if (crowded)
        return us_error_set(error, US_STATUS_BAD_INPUT, "%s:%d: too many attributes; export the score again",
                            name, crowded);
    xmlDoc *doc =
        xmlReadMemory(text, (int)size, "score", NULL,
                      XML_PARSE_NONET | XML_PARSE_NOERROR | XML_PARSE_NOWARNING | XML_PARSE_COMPACT);
    if (!doc) return syntax_error(name, error);
    us_written_init(&written);
    struct mx_reader reader = {
        .name = name, .error = error, .out = &written, .key = {US_NO_KEY, US_MODE_MAJOR}};
    enum us_status status = read_score(&reader, xmlDocGetRootElement(doc));
    if (!status) status = us_written_play(&written, name, out, error);
    us_written_finish(&written);
    xmlFreeDoc(doc);
    return status;
}
