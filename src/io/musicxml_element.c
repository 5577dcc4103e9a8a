/* The elements of a measure (W3C MusicXML 4.0 reference). */
#include "musicxml_reader.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static const int8_t SEMITONES[7] = {9, 11, 0, 2, 4, 5, 7}; /* of the letters A to G, above C */

/* Ticks of a duration in divisions; -1 where it is out of range. */
static int64_t ticks_of(const struct mx_reader *reader, double duration)
{
    double ticks = duration * US_TICKS / reader->divisions;
    return ticks >= 0 && ticks <= 4096.0 * US_TICKS ? llround(ticks) : -1;
}

/* Whole numbers that music needs; larger ones are wrong, and may be added and multiplied all the same. */
enum { WHOLE_MOST = 1000 };

static int whole(double number)
{
    return (int)fmin(fmax(number, -WHOLE_MOST), WHOLE_MOST);
}

static int whole_number(const xmlNode *node, const char *name, int otherwise)
{
    return whole(mx_number(node, name, otherwise));
}

/* Modes by name: semitones from the major key of the same signature, and the nearest mode we know. */
static const struct {
    const char *name;
    int above;
    enum us_mode mode;
} MODES[] = {
    {"major", 0, US_MODE_MAJOR},           {"minor", 9, US_MODE_MINOR},    {"ionian", 0, US_MODE_MAJOR},
    {"dorian", 2, US_MODE_DORIAN},         {"phrygian", 4, US_MODE_MINOR}, {"lydian", 5, US_MODE_MAJOR},
    {"mixolydian", 7, US_MODE_MIXOLYDIAN}, {"aeolian", 9, US_MODE_MINOR},  {"locrian", 11, US_MODE_MINOR},
};

static void read_key(struct mx_reader *reader, const xmlNode *key)
{
    char mode[16];
    mx_text(key, "mode", mode, sizeof mode);
    int fifths = whole_number(key, "fifths", 0), m = 0;
    for (size_t i = 0; i < sizeof MODES / sizeof *MODES; i++)
        if (strcmp(mode, MODES[i].name) == 0) m = (int)i;
    int tonic = us_pitch_class(fifths * 7 + MODES[m].above + reader->transpose);
    reader->key = (struct us_key){(int8_t)tonic, (uint8_t)MODES[m].mode};
    if (strcmp(mode, "none") == 0) reader->key = (struct us_key){US_NO_KEY, US_MODE_MAJOR};
    if (reader->has_key) return;
    reader->has_key = true;
    reader->has_mode = *mode != '\0';
    reader->out->key = reader->key;
}

static enum us_status read_time(struct mx_reader *reader, const xmlNode *time)
{
    char beats[16], type[8], text[32];
    if (mx_child(time, "senza-misura")) {
        reader->metre = (struct us_metre){0, 0};
        return US_STATUS_OK;
    }
    mx_text(time, "beats", beats, sizeof beats);
    int sum = 0; /* "3+2" is a sum */
    for (const char *p = beats; *p; p += *p != '\0')
        sum += whole((double)strtol(p, (char **)&p, 10));
    snprintf(text, sizeof text, "%d/%s", sum, mx_text(time, "beat-type", type, sizeof type));
    if (!us_metre_parse(text, &reader->metre))
        return mx_error(reader, time, "\"%s\" is no metre; write one such as 3/4", text);
    if (!reader->out->metre.top && reader->measure == 0) reader->out->metre = reader->metre;
    return US_STATUS_OK;
}

enum us_status mx_attributes(struct mx_reader *reader, const xmlNode *node)
{
    const xmlNode *transpose = mx_child(node, "transpose");
    reader->divisions = mx_number(node, "divisions", reader->divisions);
    if (!(reader->divisions > 0 && reader->divisions <= 1e6))
        return mx_error(reader, node, "divisions out of range; export the score again");
    if (transpose)
        reader->transpose =
            whole_number(transpose, "chromatic", 0) + 12 * whole_number(transpose, "octave-change", 0);
    if (abs(reader->transpose) > 48)
        return mx_error(reader, node, "a transposition out of range; correct it");
    if (reader->voice) return US_STATUS_OK;
    if (mx_child(node, "key")) read_key(reader, mx_child(node, "key"));
    return mx_child(node, "time") ? read_time(reader, mx_child(node, "time")) : US_STATUS_OK;
}

enum us_status mx_move(struct mx_reader *reader, const xmlNode *node, int direction)
{
    int64_t ticks = ticks_of(reader, mx_number(node, "duration", -1));
    if (ticks < 0) return mx_error(reader, node, "a move without a length; export the score again");
    reader->cursor += direction * ticks;
    if (reader->cursor < 0) reader->cursor = 0;
    if (reader->cursor > reader->furthest) reader->furthest = reader->cursor;
    return US_STATUS_OK;
}

/* Pitch as it sounds, and its place on the line of fifths; false where the note has none on the keyboard. */
static bool read_pitch(const struct mx_reader *reader, const xmlNode *pitch, struct us_written_note *note)
{
    static const int8_t FIFTHS[7] = {3, 5, 0, 2, 4, -1, 1};
    char step[4];
    mx_text(pitch, "step", step, sizeof step);
    if (*step < 'A' || *step > 'G') return false;
    int alter = whole(round(mx_number(pitch, "alter", 0)));
    int sounds =
        SEMITONES[*step - 'A'] + alter + 12 * (whole_number(pitch, "octave", -9) + 1) + reader->transpose;
    if (sounds < 0 || sounds >= US_PITCHES || abs(alter) > 2) return false;
    note->pitch = (int16_t)sounds;
    note->spelling = (int8_t)(FIFTHS[*step - 'A'] + 7 * alter);
    if (reader->transpose) note->spelling = (int8_t)us_key_spelling(reader->key, sounds);
    return true;
}

static bool has_typed(const xmlNode *node, const char *name, const char *type)
{
    char text[16];
    for (const xmlNode *child = node ? node->children : NULL; child; child = child->next)
        if (mx_is(child, name) && strcmp(mx_attribute(child, "type", text, sizeof text), type) == 0)
            return true;
    return false;
}

static uint8_t read_flags(const xmlNode *node)
{
    uint8_t flags = 0;
    if (has_typed(node, "tie", "start")) flags |= US_WRITTEN_TIE;
    for (const xmlNode *child = node->children; child; child = child->next) {
        if (!mx_is(child, "notations")) continue;
        if (has_typed(child, "tied", "start")) flags |= US_WRITTEN_TIE;
        if (has_typed(child, "slur", "start")) flags |= US_WRITTEN_SLUR_OPEN;
        if (has_typed(child, "slur", "stop")) flags |= US_WRITTEN_SLUR_CLOSE;
    }
    return flags;
}

static enum us_status add_note(struct mx_reader *reader, const xmlNode *node, struct us_written_note note)
{
    struct us_written *out = reader->out;
    int v = reader->voice;
    struct us_written_note *last = reader->last_note >= 0 ? &out->notes[v][reader->last_note] : NULL;
    if (last && last->at == note.at) {
        note.flags |= last->flags & (US_WRITTEN_LINE | US_WRITTEN_SLUR_OPEN | US_WRITTEN_SLUR_CLOSE);
        if (note.pitch > last->pitch) *last = note;
        return US_STATUS_OK;
    }
    if (out->note_count[v] >= US_WRITTEN_NOTES_MAX)
        return mx_error(reader, node, "more than %d notes in one part; split it", US_WRITTEN_NOTES_MAX);
    if (!us_grow((void **)&out->notes[v], &out->note_room[v], out->note_count[v], sizeof note))
        return mx_no_memory(reader);
    if (v == 0 && (reader->line || !out->note_count[0])) note.flags |= US_WRITTEN_LINE;
    if (v == 0) reader->line = false;
    reader->last_note = (long)out->note_count[v];
    out->notes[v][out->note_count[v]++] = note;
    return US_STATUS_OK;
}

static bool in_voice(const struct mx_reader *reader, const xmlNode *node)
{
    char text[16];
    if (strcmp(mx_text(node, "voice", text, sizeof text), reader->filter) != 0) return false;
    mx_text(node, "staff", text, sizeof text);
    return !*text || strcmp(text, "1") == 0;
}

enum us_status mx_note(struct mx_reader *reader, const xmlNode *node)
{
    struct us_written_note note = {0};
    const xmlNode *pitch = mx_child(node, "pitch");
    if (mx_child(node, "grace") || mx_child(node, "cue")) return US_STATUS_OK;
    int64_t ticks = ticks_of(reader, mx_number(node, "duration", -1));
    if (ticks < 0) return mx_error(reader, node, "a note without a length; export the score again");
    if (!mx_child(node, "chord")) {
        reader->last_from = reader->cursor;
        reader->cursor += ticks;
        if (reader->cursor > reader->furthest) reader->furthest = reader->cursor;
    }
    if (!pitch || !in_voice(reader, node) || ticks == 0) return US_STATUS_OK;
    if (!read_pitch(reader, pitch, &note))
        return mx_error(reader, node, "a note beyond the keyboard; correct its pitch");
    note.at = reader->base + reader->last_from;
    note.len = ticks;
    note.flags = read_flags(node);
    return add_note(reader, node, note);
}

static bool starts_with(const char *text, const char *word)
{
    return strncmp(text, word, strlen(word)) == 0;
}

/* Extensions fold onto the nearest of our five kinds, as in us_chord_parse. */
static enum us_chord_kind chord_kind(const char *kind)
{
    if (starts_with(kind, "dominant") || strcmp(kind, "augmented-seventh") == 0) return US_CHORD_DOM7;
    if (strcmp(kind, "minor") == 0 || strcmp(kind, "minor-sixth") == 0) return US_CHORD_MIN;
    if (starts_with(kind, "major-minor")) return US_CHORD_MIN;
    if (starts_with(kind, "minor-")) return US_CHORD_MIN7;
    if (starts_with(kind, "diminished") || starts_with(kind, "half-diminished")) return US_CHORD_DIM;
    return US_CHORD_MAJ;
}

/* The root of a harmony by letter or by step of the key; -1 where it is neither. */
static int chord_root(const struct mx_reader *reader, const xmlNode *node)
{
    char step[4];
    const xmlNode *root = mx_child(node, "root"), *numeral = mx_child(node, "numeral");
    if (root) {
        mx_text(root, "root-step", step, sizeof step);
        if (*step < 'A' || *step > 'G') return -1;
        return us_pitch_class(SEMITONES[*step - 'A'] + whole_number(root, "root-alter", 0) +
                              reader->transpose);
    }
    int number = whole_number(numeral, "numeral-root", 0);
    if (!numeral || number < 1 || number > 7 || reader->key.tonic == US_NO_KEY) return -1;
    return us_pitch_class(reader->key.tonic + us_mode_step_semitones((enum us_mode)reader->key.mode, number) +
                          whole_number(numeral, "numeral-alter", 0));
}

enum us_status mx_harmony(struct mx_reader *reader, const xmlNode *node)
{
    struct us_written *out = reader->out;
    char kind[32];
    mx_text(node, "kind", kind, sizeof kind);
    int root = strcmp(kind, "none") == 0 ? US_NO_CHORD : chord_root(reader, node);
    if (root < 0 && strcmp(kind, "none") != 0) return US_STATUS_OK;
    double offset = mx_number(node, "offset", 0);
    int64_t ticks = ticks_of(reader, fabs(offset));
    int64_t at = reader->base + reader->cursor + (offset < 0 ? -ticks : ticks);
    if (ticks < 0 || at < 0) return mx_error(reader, node, "a chord symbol with a wrong offset; correct it");
    if (!us_grow((void **)&out->chords, &out->chord_room, out->chord_count, sizeof *out->chords))
        return mx_no_memory(reader);
    out->chords[out->chord_count++] =
        (struct us_written_chord){at, {(int8_t)root, (uint8_t)chord_kind(kind)}};
    return US_STATUS_OK;
}

static enum us_status read_ending(struct mx_reader *reader, const xmlNode *node)
{
    char type[16], number[32];
    mx_attribute(node, "type", type, sizeof type);
    if (strcmp(type, "start") != 0) {
        reader->bar.closes = true;
        return US_STATUS_OK;
    }
    mx_attribute(node, "number", number, sizeof number);
    for (const char *p = number; *p; p += *p != '\0') {
        long n = strtol(p, (char **)&p, 10);
        if (n < 1 || n > US_ENDING_MAX)
            return mx_error(reader, node, "an ending \"%s\"; number it 1 to %d", number, US_ENDING_MAX);
        reader->bar.endings |= (uint16_t)(1u << n);
    }
    return US_STATUS_OK;
}

enum us_status mx_barline(struct mx_reader *reader, const xmlNode *node)
{
    char text[16];
    const xmlNode *repeat = mx_child(node, "repeat"), *ending = mx_child(node, "ending");
    mx_text(node, "bar-style", text, sizeof text);
    if (strcmp(text, "light-light") == 0 || strcmp(text, "light-heavy") == 0) reader->bar.closes = true;
    if (repeat) {
        bool forward = strcmp(mx_attribute(repeat, "direction", text, sizeof text), "forward") == 0;
        mx_attribute(repeat, "times", text, sizeof text);
        long times = *text ? strtol(text, NULL, 10) : 2;
        if (times < 1 || times > 9) return mx_error(reader, node, "a repeat of %s times; use 2 to 9", text);
        if (forward)
            reader->bar.repeat_from = true;
        else
            reader->bar.repeat_times = times > 1 ? (uint8_t)times : 0;
    }
    return ending ? read_ending(reader, ending) : US_STATUS_OK;
}

/* A metronome mark in quarters a minute; 0 where there is none that says it. */
static double metronome(const xmlNode *direction)
{
    static const struct {
        const char *name;
        double quarters;
    } UNITS[] = {{"whole", 4}, {"half", 2}, {"quarter", 1}, {"eighth", 0.5}, {"16th", 0.25}};
    char unit[16];
    for (const xmlNode *type = direction->children; type; type = type->next) {
        const xmlNode *mark = mx_is(type, "direction-type") ? mx_child(type, "metronome") : NULL;
        if (!mark) continue;
        mx_text(mark, "beat-unit", unit, sizeof unit);
        double rate = mx_number(mark, "per-minute", 0);
        for (size_t i = 0; i < sizeof UNITS / sizeof *UNITS; i++)
            if (strcmp(unit, UNITS[i].name) == 0)
                return rate * UNITS[i].quarters * (mx_child(mark, "beat-unit-dot") ? 1.5 : 1);
    }
    return 0;
}

/* Where the player is sent elsewhere. */
static void read_jumps(struct mx_reader *reader, const xmlNode *sound)
{
    static const struct {
        const char *name;
        uint8_t jump;
    } SIGNS[] = {{"segno", US_JUMP_SEGNO},        {"coda", US_JUMP_CODA},      {"dacapo", US_JUMP_DA_CAPO},
                 {"dalsegno", US_JUMP_DAL_SEGNO}, {"tocoda", US_JUMP_TO_CODA}, {"fine", US_JUMP_FINE}};
    char text[24];
    for (size_t i = 0; i < sizeof SIGNS / sizeof *SIGNS; i++)
        if (*mx_attribute(sound, SIGNS[i].name, text, sizeof text) && strcmp(text, "no") != 0)
            reader->bar.jumps |= SIGNS[i].jump;
}

void mx_sound(struct mx_reader *reader, const xmlNode *node)
{
    char text[24];
    const xmlNode *sound = mx_is(node, "sound") ? node : mx_child(node, "sound");
    if (sound) read_jumps(reader, sound);
    if (reader->out->quarters_a_minute > 0) return;
    double rate = sound ? strtod(mx_attribute(sound, "tempo", text, sizeof text), NULL) : 0;
    if (!(rate > 0)) rate = metronome(node);
    if (rate > 0 && rate < 10000) reader->out->quarters_a_minute = rate;
}
