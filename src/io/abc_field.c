/* The fields K, M, L, Q, V and P of abc (abc 2.1, sections 3.1 and 7.1). */
#include "abc_reader.h"

#include <ctype.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

static const char LETTERS[] = "CDEFGAB";
static const char FIFTHS[] = "FCGDAEB"; /* sharps come in this order, flats in the other */

/* Modes by their three letters: fifths of the signature against major, and the nearest mode we know. */
static const struct {
    const char *name;
    int fifths;
    enum us_mode mode;
} MODES[] = {
    {"maj", 0, US_MODE_MAJOR},   {"ion", 0, US_MODE_MAJOR},  {"min", -3, US_MODE_MINOR},
    {"aeo", -3, US_MODE_MINOR},  {"m", -3, US_MODE_MINOR},   {"mix", -1, US_MODE_MIXOLYDIAN},
    {"dor", -2, US_MODE_DORIAN}, {"phr", -4, US_MODE_MINOR}, {"lyd", 1, US_MODE_MAJOR},
    {"loc", -5, US_MODE_MINOR},
};

static void set_signature(struct abc_key *key, int fifths)
{
    memset(key->signature, 0, sizeof key->signature);
    for (int i = 0; i < abs(fifths); i++) {
        char letter = FIFTHS[fifths > 0 ? i % 7 : 6 - i % 7];
        int8_t *sign = &key->signature[strchr(LETTERS, letter) - LETTERS];
        *sign = (int8_t)(*sign + (fifths > 0 ? 1 : -1));
    }
}

/* Reads "^f", "_b", "=c", "^^g", "__a" in a key; false where `p` is none. */
static bool explicit_accidental(const char *p, struct abc_key *key)
{
    int alter = 0;
    const char *start = p;
    for (; *p == '^' || *p == '_' || *p == '='; p++)
        alter += *p == '^' ? 1 : *p == '_' ? -1 : 0;
    const char *found = *p ? strchr(LETTERS, toupper((unsigned char)*p)) : NULL;
    if (p == start || p - start > 2 || !found || p[1]) return false;
    key->signature[found - LETTERS] = (int8_t)alter;
    return true;
}

/* The mode word right behind the tonic or as a word of its own; false for another word. */
static bool mode_word(const char *word, int *mode)
{
    if (strcmp(word, "M") == 0) return *mode = 0, true;
    for (size_t i = 0; i < sizeof MODES / sizeof *MODES; i++) {
        size_t length = strlen(MODES[i].name);
        if (strncasecmp(word, MODES[i].name, length)) continue;
        bool whole = length == 3 || !word[1];
        for (const char *c = word; *c; c++)
            whole = whole && isalpha((unsigned char)*c);
        if (whole) return *mode = (int)i, true;
    }
    return false;
}

static bool is_setting(const char *word)
{
    static const char *const CLEFS[] = {"treble", "bass", "alto", "tenor", "perc", "clef="};
    for (size_t i = 0; i < sizeof CLEFS / sizeof *CLEFS; i++)
        if (strncasecmp(word, CLEFS[i], strlen(CLEFS[i])) == 0) return true;
    return strchr(word, '=') && *word != '=';
}

/* Splits off the next word of `*p` into `word`; false at the end. */
static bool next_word(const char **p, char *word, size_t size)
{
    while (isspace((unsigned char)**p))
        (*p)++;
    size_t n = 0;
    while (**p && !isspace((unsigned char)**p)) {
        if (n + 1 < size) word[n++] = **p;
        (*p)++;
    }
    word[n] = '\0';
    return n > 0;
}

/* "G", "Bb", "F#min": the tonic's place on the line of fifths and the mode. */
static bool tonic_word(const char *word, int *fifths, int *mode)
{
    const char *found = *word ? strchr(FIFTHS, *word) : NULL;
    if (!found) return false;
    *fifths = (int)(found - FIFTHS) - 1;
    word++;
    if (*word == '#')
        *fifths += 7, word++;
    else if (*word == 'b')
        *fifths -= 7, word++;
    *mode = 0;
    return !*word || mode_word(word, mode);
}

bool abc_parse_key(const char *value, const struct abc_key *before, struct abc_key *key)
{
    char word[64];
    int fifths = 0, mode = 0;
    *key = *before;
    if (!next_word(&value, word, sizeof word)) return true;
    bool first = true;
    if (strcasecmp(word, "none") == 0) {
        *key = (struct abc_key){.key = {US_NO_KEY, US_MODE_MAJOR}};
    } else if (strcmp(word, "HP") == 0 || strcmp(word, "Hp") == 0) {
        /* The bagpipe scale: A mixolydian. */
        set_signature(key, 2);
        key->key = (struct us_key){9, US_MODE_MIXOLYDIAN};
    } else if (tonic_word(word, &fifths, &mode)) {
        const char *rest = value;
        char next[64];
        if (next_word(&rest, next, sizeof next) && mode_word(next, &mode)) value = rest;
        key->key = (struct us_key){(int8_t)us_pitch_class(fifths * 7), (uint8_t)MODES[mode].mode};
        set_signature(key, fifths + MODES[mode].fifths);
    } else {
        first = is_setting(word);
        if (!first) return false;
    }
    while (next_word(&value, word, sizeof word)) {
        if (strcasecmp(word, "exp") == 0)
            set_signature(key, 0);
        else if (!explicit_accidental(word, key) && !is_setting(word))
            return false;
    }
    return true;
}

bool abc_parse_metre(const char *value, struct us_metre *metre)
{
    if (strcasecmp(value, "none") == 0 || !*value) {
        *metre = (struct us_metre){0, 0};
        return true;
    }
    if (strcmp(value, "C") == 0 || strcmp(value, "C|") == 0) return us_metre_parse(value, metre);
    long top = 0;
    const char *p = value;
    for (; *p && *p != '/'; p++) {
        if (*p == '(' || *p == ')' || *p == '+' || *p == ' ') continue;
        char *end;
        if (!isdigit((unsigned char)*p)) return false;
        long part = strtol(p, &end, 10);
        if (part > 32) return false;
        top += part;
        p = end - 1;
    }
    char *end;
    if (*p != '/' || !isdigit((unsigned char)p[1])) return false;
    long bottom = strtol(p + 1, &end, 10);
    if (*end || top < 1 || top > 32 || bottom < 1 || bottom > 32 || (bottom & (bottom - 1))) return false;
    *metre = (struct us_metre){(uint8_t)top, (uint8_t)bottom};
    return true;
}

/* "1/8" or "1" as ticks; moves `*p` behind it. */
static bool parse_fraction(const char **p, int64_t *ticks)
{
    char *end;
    if (!isdigit((unsigned char)**p)) return false;
    long top = strtol(*p, &end, 10), bottom = 1;
    if (*end == '/') {
        if (!isdigit((unsigned char)end[1])) return false;
        bottom = strtol(end + 1, &end, 10);
    }
    if (top < 1 || top > 64 || bottom < 1 || bottom > 512) return false;
    *ticks = (int64_t)US_TICKS * 4 * top / bottom;
    *p = end;
    return true;
}

bool abc_parse_unit(const char *value, int64_t *unit)
{
    const char *p = value;
    return parse_fraction(&p, unit) && !*p;
}

/* "1/4=120", "1/4 3/8=40", "3/8=50", "120", "C=120", with words in quotes before or after. */
bool abc_parse_tempo(const char *value, int64_t unit, double *quarters_a_minute)
{
    int64_t beat = 0, part;
    *quarters_a_minute = 0;
    for (const char *p = value; *p;) {
        if (*p == '"') {
            const char *close = strchr(p + 1, '"');
            if (!close) return false;
            p = close + 1;
        } else if (isspace((unsigned char)*p)) {
            p++;
        } else if (*p == 'C') {
            long times = strtol(p + 1, (char **)&p, 10);
            if (times < 0 || times > 64) return false;
            beat = unit * (times ? times : 1);
        } else if (*p == '=' || (!beat && strcspn(p, "/=") == strlen(p))) {
            p += *p == '=';
            char *end;
            double rate = strtod(p, &end);
            if (end == p || !(rate > 0 && rate < 10000)) return false;
            *quarters_a_minute = rate * (double)(beat ? beat : unit) / US_TICKS;
            p = end;
        } else if (parse_fraction(&p, &part)) {
            beat += part;
        } else {
            return false;
        }
    }
    return *quarters_a_minute < 10000;
}

/* Plays out "(AB)3C2" as "ABABABCC"; what is not a letter, a number or a bracket is skipped. */
void abc_parse_parts(const char *value, char *out, size_t size)
{
    size_t opened[8] = {0}, depth = 0, n = 0, unit = 0;
    for (const char *p = value; *p && *p != '"'; p++) {
        if (isupper((unsigned char)*p)) {
            unit = n;
            if (n + 1 < size) out[n++] = *p;
        } else if (*p == '(' && depth < 8) {
            opened[depth++] = n;
        } else if (*p == ')' && depth) {
            unit = opened[--depth];
        } else if (isdigit((unsigned char)*p)) {
            char *end;
            long times = strtol(p, &end, 10);
            size_t length = n - unit;
            for (long k = 1; k < times && k < 100 && n + length < size; k++, n += length)
                memcpy(out + n, out + unit, length);
            p = end - 1;
        }
    }
    out[n] = '\0';
}

/* "octave=-1" and "transpose=2" in K: and V: fields. */
static void voice_settings(struct abc_voice *voice, const char *value)
{
    char word[64];
    while (next_word(&value, word, sizeof word)) {
        long amount = strchr(word, '=') ? strtol(strchr(word, '=') + 1, NULL, 10) : 0;
        if (strncmp(word, "octave=", 7) == 0 && amount >= -4 && amount <= 4) voice->octave = (int)amount;
        if (strncmp(word, "transpose=", 10) == 0 && amount >= -36 && amount <= 36)
            voice->transpose = (int)amount;
    }
}

/* A left hand under the melody, as our own sheets have it. */
static bool is_left_hand(const struct abc_reader *reader, const char *name, const char *settings)
{
    char word[64];
    if (!*reader->voice_names[0] || strcmp(reader->voice_names[0], name) == 0) return false;
    while (next_word(&settings, word, sizeof word))
        if (strcmp(word, "clef=bass") == 0 || strcmp(word, "bass") == 0) return true;
    return false;
}

/* The first voice named is the melody, the second one is kept, more are read and dropped, and so is a second
   one in the bass clef. */
static void select_voice(struct abc_reader *reader, const char *value)
{
    char name[ABC_NAME_MAX];
    if (!next_word(&value, name, sizeof name)) return;
    if (!*reader->voice_names[0] && reader->voices[0].at > 0) memcpy(reader->voice_names[0], "1", 2);
    reader->voice = ABC_VOICES - 1;
    bool left_hand = is_left_hand(reader, name, value);
    for (int v = 0; v < US_WRITTEN_VOICES && !left_hand; v++) {
        char *known = reader->voice_names[v];
        if (!*known) memcpy(known, name, sizeof name);
        if (strcmp(known, name) == 0) {
            reader->voice = v;
            break;
        }
    }
    voice_settings(&reader->voices[reader->voice], value);
}

static enum us_status key_field(struct abc_reader *reader, const char *value)
{
    struct abc_voice *voice = &reader->voices[reader->voice];
    struct abc_key key;
    if (!abc_parse_key(value, &voice->key, &key))
        return abc_error(reader, "\"%.40s\" is no key; write a letter and a mode, as in K:G or K:Em", value);
    int from = reader->in_body ? reader->voice : 0, to = reader->in_body ? reader->voice : ABC_VOICES - 1;
    for (int v = from; v <= to; v++) {
        reader->voices[v].key = key;
        abc_clear_accidentals(&reader->voices[v]);
        voice_settings(&reader->voices[v], value);
    }
    if (!reader->in_body || (reader->voice == 0 && voice->at == 0)) reader->out->key = key.key;
    if (reader->voice == 0 && voice->at == reader->open_bar.at) reader->open_bar.key = key.key;
    return US_STATUS_OK;
}

static enum us_status metre_field(struct abc_reader *reader, const char *value)
{
    struct us_metre metre;
    if (!abc_parse_metre(value, &metre))
        return abc_error(reader, "\"%.40s\" is no metre; write one as in M:3/4 or M:6/8", value);
    int from = reader->in_body ? reader->voice : 0, to = reader->in_body ? reader->voice : ABC_VOICES - 1;
    for (int v = from; v <= to; v++)
        reader->voices[v].metre = metre;
    if (!reader->in_body || (reader->voice == 0 && reader->voices[0].at == 0)) reader->out->metre = metre;
    if (reader->voice == 0 && reader->voices[0].at == reader->open_bar.at) reader->open_bar.metre = metre;
    return US_STATUS_OK;
}

static enum us_status unit_field(struct abc_reader *reader, const char *value)
{
    int64_t unit;
    if (!abc_parse_unit(value, &unit))
        return abc_error(reader, "\"%.40s\" is no note length; write one as in L:1/8", value);
    if (reader->in_body) {
        reader->voices[reader->voice].unit = unit;
        return US_STATUS_OK;
    }
    reader->has_unit = true;
    for (int v = 0; v < ABC_VOICES; v++)
        reader->voices[v].unit = unit;
    return US_STATUS_OK;
}

static enum us_status tempo_field(struct abc_reader *reader, const char *value)
{
    double rate;
    if (!abc_parse_tempo(value, reader->voices[reader->voice].unit, &rate))
        return abc_error(reader, "\"%.40s\" is no tempo; write one as in Q:1/4=100", value);
    if (reader->out->quarters_a_minute <= 0) reader->out->quarters_a_minute = rate;
    return US_STATUS_OK;
}

static void text_field(char *out, size_t size, const char *value)
{
    if (!*out) abc_read_text(value, out, size);
}

enum us_status abc_field(struct abc_reader *reader, char letter, const char *value)
{
    switch (letter) {
    case 'T': text_field(reader->out->title, sizeof reader->out->title, value); break;
    case 'C': text_field(reader->out->composer, sizeof reader->out->composer, value); break;
    case 'K': return key_field(reader, value);
    case 'M': return metre_field(reader, value);
    case 'L': return unit_field(reader, value);
    case 'Q': return tempo_field(reader, value);
    case 'V': select_voice(reader, value); break;
    case 'P':
        if (!reader->in_body)
            abc_parse_parts(value, reader->out->parts, sizeof reader->out->parts);
        else if (reader->voice == 0 && isupper((unsigned char)*value))
            reader->open_bar.part = *value;
        break;
    default: break; /* words, remarks, histories: nothing to play */
    }
    return US_STATUS_OK;
}
