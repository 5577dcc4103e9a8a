/* An abc file: songbook, tune head, tune body (abc 2.1, sections 2 and 3). */
#include "abc_reader.h"
#include "undersong/plain_line.h"

#include <ctype.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { LINE_MAX_BYTES = 4096, TUNES_MAX = 10000 };

enum us_status abc_error(struct abc_reader *reader, const char *format, ...)
{
    char what[300];
    va_list args;
    va_start(args, format);
    vsnprintf(what, sizeof what, format, args);
    va_end(args);
    return us_error_set(reader->error, US_STATUS_BAD_INPUT, "%s:%d: %s", reader->name, reader->line, what);
}

enum us_status abc_no_memory(struct abc_reader *reader)
{
    return us_error_set(reader->error, US_STATUS_NO_MEMORY, "%s: no memory left for the tune", reader->name);
}

bool abc_next_line(const char *text, size_t size, size_t *at, struct abc_line *line)
{
    if (*at >= size) return false;
    size_t end = *at;
    while (end < size && text[end] != '\n' && text[end] != '\r')
        end++;
    *line = (struct abc_line){text + *at, end - *at};
    if (end < size) end += text[end] == '\r' && end + 1 < size && text[end + 1] == '\n' ? 2 : 1;
    *at = end;
    return true;
}

/* Copies the line without comment and without the blanks at its end.  `\%` is a percent sign. */
static bool copy_line(struct abc_line line, char out[LINE_MAX_BYTES])
{
    if (line.size >= 3 && memcmp(line.text, "\xef\xbb\xbf", 3) == 0) line.text += 3, line.size -= 3;
    if (line.size >= LINE_MAX_BYTES) return false;
    size_t n = 0;
    for (; n < line.size; n++) {
        if (line.text[n] == '%' && !(n && line.text[n - 1] == '\\')) break;
        out[n] = line.text[n] ? line.text[n] : '\1';
    }
    while (n && isspace((unsigned char)out[n - 1]))
        n--;
    out[n] = '\0';
    return true;
}

static bool is_blank(struct abc_line line)
{
    for (size_t i = 0; i < line.size; i++)
        if (!isspace((unsigned char)line.text[i])) return false;
    return true;
}

/* "K:" at the start of a line; in the tune's body "c:|" is music. */
static bool is_field(const char *text, bool in_body)
{
    if ((!isalpha((unsigned char)text[0]) && text[0] != '+') || text[1] != ':') return false;
    return !(in_body && strchr("ABCDEFGabcdefgz", text[0]) && (text[2] == '|' || text[2] == ':'));
}

/* What stands behind the letter and the colon. */
static const char *field_value(const char *text)
{
    return text + 2 + strspn(text + 2, " \t");
}

/* %% lines: two of them change what we read. */
static void directive(struct abc_reader *reader, struct abc_line line)
{
    char text[64];
    size_t n = line.size < sizeof text ? line.size : sizeof text - 1;
    memcpy(text, line.text, n);
    text[n] = '\0';
    const char *word = text + 2 + strspn(text + 2, " ");
    if (strncmp(word, "begin", 5) == 0) reader->skipping_text = true;
    if (strncmp(word, "end", 3) == 0) reader->skipping_text = false;
    if (strncmp(word, "propagate-accidentals", 21) == 0) {
        word += 21 + strspn(word + 21, " ");
        if (strncmp(word, "not", 3) == 0) reader->reach = ABC_REACH_NOTE;
        if (strncmp(word, "octave", 6) == 0) reader->reach = ABC_REACH_OCTAVE;
        if (strncmp(word, "pitch", 5) == 0) reader->reach = ABC_REACH_ALL_OCTAVES;
    }
}

static void start_tune(struct abc_reader *reader)
{
    for (int v = 0; v < ABC_VOICES; v++) {
        struct abc_voice *voice = &reader->voices[v];
        memset(voice, 0, sizeof *voice);
        voice->unit = US_TICKS / 2;
        voice->last_note = -1;
        voice->key.key.tonic = US_NO_KEY;
        abc_clear_accidentals(voice);
    }
}

/* The default unit note: a sixteenth where the metre as a fraction is below 0.75, else an eighth. */
static void start_body(struct abc_reader *reader)
{
    reader->in_body = true;
    reader->voice = 0;
    struct us_metre metre = reader->out->metre;
    bool small = metre.top && 4 * metre.top < 3 * metre.bottom;
    for (int v = 0; v < ABC_VOICES && !reader->has_unit; v++)
        reader->voices[v].unit = US_TICKS / (small ? 4 : 2);
    reader->open_bar.metre = metre;
    reader->open_bar.key = reader->out->key;
}

static enum us_status head_or_body_line(struct abc_reader *reader, const char *text)
{
    if (is_field(text, reader->in_body)) {
        char letter = text[0];
        enum us_status status = abc_field(reader, letter, field_value(text));
        if (!status && letter == 'K' && !reader->in_body) start_body(reader);
        return status;
    }
    if (!reader->in_body)
        return abc_error(reader, "music before the tune's head is complete; put a K: line before it");
    return abc_music(reader, text);
}

/* Where each tune starts: the lines X:. */
static bool reference_number(const char *text, int *number)
{
    if (text[0] != 'X' || text[1] != ':') return false;
    long value = strtol(text + 2, NULL, 10);
    *number = value < 0 || value > 1000000 ? 0 : (int)value;
    return true;
}

struct place {
    size_t at;
    int line;
};

/* Finds the tune and reads the fields above the first one, which hold for all of them. */
static enum us_status find_tune(struct abc_reader *reader, const char *text, size_t size, int number,
                                struct place *place)
{
    struct abc_line line;
    char copy[LINE_MAX_BYTES];
    size_t at = 0;
    bool any = false;
    for (int n = 1;; n++) {
        *place = (struct place){at, n};
        if (!abc_next_line(text, size, &at, &line)) break;
        reader->line = n;
        int found;
        bool other = line.size < 2 || !strchr("X\xef", line.text[0]);
        if (any && other && line.size < LINE_MAX_BYTES) continue;
        if (!copy_line(line, copy))
            return abc_error(reader, "a line longer than %d bytes; break it", LINE_MAX_BYTES - 1);
        if (!reference_number(copy, &found)) {
            if (any || !is_field(copy, false) || !strchr("LMQCI", copy[0])) continue;
            enum us_status status = abc_field(reader, copy[0], field_value(copy));
            if (status) return status;
            continue;
        }
        any = true;
        if (number == 0 || found == number) {
            reader->out->number = found;
            return US_STATUS_OK;
        }
    }
    if (any)
        return us_error_set(reader->error, US_STATUS_NOT_FOUND,
                            "%s: no tune has the number %d (X:%d); choose another", reader->name, number,
                            number);
    *place = (struct place){0, 1};
    reader->out->number = 1;
    return US_STATUS_OK;
}

static enum us_status read_lines(struct abc_reader *reader, const char *text, size_t size, struct place place)
{
    struct abc_line line;
    char copy[LINE_MAX_BYTES];
    bool started = false;
    for (int n = place.line; abc_next_line(text, size, &place.at, &line); n++) {
        reader->line = n;
        if (line.size >= 2 && line.text[0] == '%' && line.text[1] == '%') {
            directive(reader, line);
            continue;
        }
        if (reader->skipping_text) continue;
        if (is_blank(line)) {
            if (started) break;
            continue;
        }
        if (!copy_line(line, copy))
            return abc_error(reader, "a line longer than %d bytes; break it", LINE_MAX_BYTES - 1);
        int number;
        if (!*copy) continue;
        if (reference_number(copy, &number)) {
            if (started) break;
            started = true;
            continue;
        }
        started = true;
        enum us_status status = head_or_body_line(reader, copy);
        if (status) return status;
    }
    return US_STATUS_OK;
}

static enum us_status read_tune(struct abc_reader *reader, const char *text, size_t size, int number)
{
    struct place place;
    start_tune(reader);
    enum us_status status = find_tune(reader, text, size, number, &place);
    if (!status) status = read_lines(reader, text, size, place);
    if (!status && !reader->in_body)
        status = abc_error(reader, "the tune has no key; end its head with a K: line");
    if (!status) status = abc_close_bar(reader);
    if (!status && !reader->out->note_count[0])
        status = abc_error(reader, "the tune has no notes; write some");
    return status;
}

enum us_status us_abc_read(const char *text, size_t size, const char *name, int number,
                           struct us_tune_file *out, struct us_error *error)
{
    struct us_written written;
    us_written_init(&written);
    struct abc_reader *reader = calloc(1, sizeof *reader);
    memset(out, 0, sizeof *out);
    if (!reader) return us_error_set(error, US_STATUS_NO_MEMORY, "%s: no memory left for the tune", name);
    *reader = (struct abc_reader){.name = name, .error = error, .out = &written, .line = 1};
    enum us_status status = read_tune(reader, text, size, number);
    if (!status) status = us_written_play(&written, name, out, error);
    us_written_finish(&written);
    free(reader);
    return status;
}

enum us_status us_abc_list(const char *text, size_t size, const char *name, struct us_tune_entry **out,
                           size_t *count, struct us_error *error)
{
    struct abc_line line;
    char copy[LINE_MAX_BYTES];
    size_t at = 0, room = 0;
    *out = NULL;
    *count = 0;
    while (abc_next_line(text, size, &at, &line)) {
        int number;
        if (!copy_line(line, copy)) continue;
        if (reference_number(copy, &number)) {
            if (*count == TUNES_MAX) {
                free(*out);
                *out = NULL;
                *count = 0;
                return us_error_set(error, US_STATUS_BAD_INPUT, "%s: more than %d tunes in it; split it",
                                    name, TUNES_MAX);
            }
            if (!us_grow((void **)out, &room, *count, sizeof **out)) {
                free(*out);
                *out = NULL;
                return us_error_set(error, US_STATUS_NO_MEMORY, "%s: no memory left for the list", name);
            }
            (*out)[(*count)++] = (struct us_tune_entry){.number = number};
        } else if (*count && copy[0] == 'T' && copy[1] == ':' && !(*out)[*count - 1].title[0]) {
            char *title = (*out)[*count - 1].title;
            abc_read_text(field_value(copy), title, sizeof(*out)->title);
            us_plain_line(title, title, sizeof(*out)->title);
        }
    }
    if (*count) return US_STATUS_OK;
    return us_error_set(error, US_STATUS_BAD_INPUT, "%s: no tune in it; a tune starts with a line X:1", name);
}
