/* A line of music code (abc 2.1, section 4). */
#include "abc_reader.h"

#include <ctype.h>
#include <string.h>

/* "G7" over the staff: a chord symbol.  Words with ^ _ < > @ before them, and words that are no chord, are
   there to be read, not played. */
static enum us_status quoted(struct abc_reader *reader, const char **p)
{
    struct us_written *out = reader->out;
    const char *close = strchr(*p + 1, '"');
    if (!close)
        return abc_error(reader, "a quotation mark (\") without its other half; close the chord symbol");
    char symbol[32];
    size_t length = (size_t)(close - *p - 1);
    struct us_written_chord chord = {.at = reader->voices[0].at};
    if (length < sizeof symbol && reader->voice == 0) {
        memcpy(symbol, *p + 1, length);
        symbol[length] = '\0';
        /* "No chord" is no chord symbol of the standard, so it may stand as an annotation. */
        const char *word = symbol + (strchr("^_<>@", *symbol) && *symbol);
        bool silent = strcmp(word, "N.C.") == 0 || strcmp(word, "NC") == 0;
        if (silent) chord.chord = (struct us_chord){US_NO_CHORD, US_CHORD_MAJ};
        if (silent || us_chord_parse(symbol, &chord.chord)) {
            size_t last = out->chord_count;
            if (last && out->chords[last - 1].at == chord.at) out->chord_count--; /* the later one holds */
            if (!us_grow((void **)&out->chords, &out->chord_room, out->chord_count, sizeof chord))
                return abc_no_memory(reader);
            out->chords[out->chord_count++] = chord;
        }
    }
    *p = close + 1;
    return US_STATUS_OK;
}

/* [K:Dm] in the middle of a line. */
static enum us_status inline_field(struct abc_reader *reader, const char **p)
{
    const char *close = strchr(*p, ']');
    if (!close) return abc_error(reader, "a field in [ ] without its ]; close it");
    char value[256];
    const char *start = *p + 3;
    while (isspace((unsigned char)*start) && start < close)
        start++;
    size_t length = (size_t)(close - start);
    if (length >= sizeof value) length = sizeof value - 1;
    memcpy(value, start, length);
    while (length && isspace((unsigned char)value[length - 1]))
        length--;
    value[length] = '\0';
    char letter = (*p)[1];
    *p = close + 1;
    return abc_field(reader, letter, value);
}

static enum us_status bracket(struct abc_reader *reader, const char **p)
{
    char next = (*p)[1];
    if (next == '|' || next == ']') return abc_bar(reader, p);
    if (isdigit((unsigned char)next)) {
        (*p)++;
        return abc_ending(reader, p);
    }
    if (isalpha((unsigned char)next) && (*p)[2] == ':') return inline_field(reader, p);
    if (next == '"') {
        (*p)++; /* an ending in words: the words are skipped */
        return quoted(reader, p);
    }
    return abc_chord(reader, p);
}

static enum us_status skip_to(struct abc_reader *reader, const char **p, char close, const char *what)
{
    const char *end = strchr(*p + 1, close);
    if (!end) return abc_error(reader, "%s", what);
    *p = end + 1;
    return US_STATUS_OK;
}

/* Signs that send the player elsewhere (abc 2.1, section 4.14).  A second coda sign is where the first one
   leads. */
static void jump_sign(struct abc_reader *reader, const char *name, size_t length)
{
    static const struct {
        const char *name;
        uint8_t jump;
    } SIGNS[] = {{"segno", US_JUMP_SEGNO},         {"coda", US_JUMP_CODA},
                 {"D.C.", US_JUMP_DA_CAPO},        {"dacapo", US_JUMP_DA_CAPO},
                 {"D.S.", US_JUMP_DAL_SEGNO},      {"dacoda", US_JUMP_TO_CODA},
                 {"fine", US_JUMP_FINE},           {"D.C.alfine", US_JUMP_DA_CAPO},
                 {"D.C.alcoda", US_JUMP_DA_CAPO},  {"D.S.alfine", US_JUMP_DAL_SEGNO},
                 {"D.S.alcoda", US_JUMP_DAL_SEGNO}};
    if (reader->voice != 0) return;
    for (size_t i = 0; i < sizeof SIGNS / sizeof *SIGNS; i++) {
        if (strlen(SIGNS[i].name) != length || strncmp(name, SIGNS[i].name, length) != 0) continue;
        bool again = reader->open_bar.jumps & SIGNS[i].jump;
        reader->open_bar.jumps |= SIGNS[i].jump;
        if (SIGNS[i].jump != US_JUMP_CODA || again) return;
        for (size_t b = 0; b < reader->out->bar_count; b++)
            if (reader->out->bars[b].jumps & US_JUMP_CODA)
                reader->out->bars[b].jumps ^= US_JUMP_CODA | US_JUMP_TO_CODA;
    }
}

/* Decorations between exclamation marks; a lone one is an old sign for the end of a line. */
static enum us_status decoration(struct abc_reader *reader, const char **p)
{
    const char *end = strchr(*p + 1, **p);
    if (end) jump_sign(reader, *p + 1, (size_t)(end - *p - 1));
    *p = end ? end + 1 : *p + 1;
    return US_STATUS_OK;
}

static enum us_status tie(struct abc_reader *reader, const char **p)
{
    struct abc_voice *voice = &reader->voices[reader->voice];
    (*p)++;
    if (!voice->has_last)
        return abc_error(reader, "a tie (-) without a note before it; put it behind a note");
    if (voice->last_note < 0) return US_STATUS_OK;
    reader->out->notes[reader->voice][voice->last_note].flags |= US_WRITTEN_TIE;
    voice->tied = true;
    return US_STATUS_OK;
}

static enum us_status slur(struct abc_reader *reader, const char **p)
{
    struct abc_voice *voice = &reader->voices[reader->voice];
    if (**p == '(' && isdigit((unsigned char)(*p)[1])) return abc_tuplet(reader, p);
    if (*(*p)++ == '(')
        voice->slur_open = true;
    else if (voice->has_last && voice->last_note >= 0)
        reader->out->notes[reader->voice][voice->last_note].flags |= US_WRITTEN_SLUR_CLOSE;
    return US_STATUS_OK;
}

/* A voice written over the same bar: everything up to the bar line is another voice's. */
static enum us_status overlay(struct abc_reader *reader, const char **p)
{
    *p += strcspn(*p, "|");
    return US_STATUS_OK;
}

static bool is_skipped(char c)
{
    return strchr(" \t`~.*#;?@$\\)", c) || (c >= 'H' && c <= 'W') || (c >= 'h' && c <= 'w');
}

static enum us_status element(struct abc_reader *reader, const char **p)
{
    char c = **p;
    if (c == '(' || c == ')') return slur(reader, p);
    if (strchr("ABCDEFGabcdefg^_=", c)) return abc_note(reader, p);
    if (strchr("zxZX", c)) return abc_rest(reader, p);
    if (c == 'y') {
        *p += 1 + strspn(*p + 1, "0123456789/");
        return US_STATUS_OK;
    }
    switch (c) {
    case '"': return quoted(reader, p);
    case '[': return bracket(reader, p);
    case '|':
    case ':': return abc_bar(reader, p);
    case '{': return skip_to(reader, p, '}', "a { without its }; close the grace notes");
    case '!':
    case '+': return decoration(reader, p);
    case '-': return tie(reader, p);
    case '<':
    case '>': return abc_broken_rhythm(reader, p);
    case '&': return overlay(reader, p);
    default: break;
    }
    if (is_skipped(c)) {
        if (c == 'S') jump_sign(reader, "segno", 5);
        if (c == 'O') jump_sign(reader, "coda", 4);
        (*p)++;
        return US_STATUS_OK;
    }
    int column = (int)(*p - reader->line_text) + 1;
    if (isprint((unsigned char)c))
        return abc_error(reader, "'%c' in column %d means nothing here; take it out", c, column);
    return abc_error(reader, "a character in column %d that is no music; take it out", column);
}

enum us_status abc_music(struct abc_reader *reader, const char *text)
{
    size_t length = strlen(text);
    while (length && isspace((unsigned char)text[length - 1]))
        length--;
    reader->line_text = text;
    for (int v = 0; v < ABC_VOICES; v++)
        reader->voices[v].line_start = reader->voices[v].line_start || !reader->continued;
    reader->continued = length && text[length - 1] == '\\';
    const char *p = text;
    while (*p) {
        enum us_status status = element(reader, &p);
        if (status) return status;
    }
    return US_STATUS_OK;
}
