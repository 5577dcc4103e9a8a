/* Notes, chords, rests, tuplets and broken rhythm (abc 2.1, sections 4.1 to 4.4, 4.13 and 4.17). */
#include "abc_reader.h"

#include <ctype.h>
#include <stdlib.h>
#include <string.h>

static const int8_t LETTER_SEMITONES[ABC_LETTERS] = {0, 2, 4, 5, 7, 9, 11};
static const int8_t LETTER_FIFTHS[ABC_LETTERS] = {0, 2, 4, -1, 1, 3, 5};

struct head {
    int letter, octave, alter;
    bool explicit_alter;
};

void abc_clear_accidentals(struct abc_voice *voice)
{
    memset(voice->accidentals, ABC_NO_ACCIDENTAL, sizeof voice->accidentals);
}

static bool is_accidental(char c)
{
    return c == '^' || c == '_' || c == '=';
}

/* "^^C,," without its length. */
static enum us_status read_head(struct abc_reader *reader, const char **p, struct head *head)
{
    static const char LETTERS[] = "CDEFGAB";
    *head = (struct head){.octave = 5};
    char sign = **p;
    for (; is_accidental(**p); (*p)++) {
        if (**p != sign) return abc_error(reader, "accidentals of two kinds before one note; keep one");
        head->alter += sign == '^' ? 1 : sign == '_' ? -1 : 0;
        head->explicit_alter = true;
    }
    if (abs(head->alter) > 2)
        return abc_error(reader, "more than two sharps or flats before a note; keep two");
    const char *found = **p ? strchr(LETTERS, toupper((unsigned char)**p)) : NULL;
    if (!found) {
        if (head->explicit_alter)
            return abc_error(reader, "an accidental without a note behind it; write the note, A to G");
        return abc_error(reader, "a note should stand here, A to G; put one in or take the sign out");
    }
    head->letter = (int)(found - LETTERS);
    if (islower((unsigned char)**p)) head->octave++;
    for ((*p)++; **p == '\'' || **p == ','; (*p)++)
        head->octave += **p == '\'' ? 1 : -1;
    return US_STATUS_OK;
}

/* "3/2", "/", "//", "/4", "" as a multiple; moves `*p`. */
static enum us_status read_length(struct abc_reader *reader, const char **p, long *top, long *bottom)
{
    *top = *bottom = 1;
    if (isdigit((unsigned char)**p)) *top = strtol(*p, (char **)p, 10);
    while (**p == '/') {
        (*p)++;
        long by = 2;
        if (isdigit((unsigned char)**p)) by = strtol(*p, (char **)p, 10);
        if (by < 1 || by > 1024 || *bottom > 1024)
            return abc_error(reader, "a note length below 1/1024; make it longer");
        *bottom *= by;
    }
    if (*top < 1 || *top > 1024 || *bottom > 1024)
        return abc_error(reader, "a note length out of range; write 1 to 1024, or /2, /4 and so on");
    return US_STATUS_OK;
}

static bool in_range(const struct head *head)
{
    return head->octave >= 0 && head->octave < ABC_OCTAVES;
}

/* What the bar so far, the tie and the key make of a note without an accidental of its own. */
static int alteration(struct abc_reader *reader, const struct head *head)
{
    struct abc_voice *voice = &reader->voices[reader->voice];
    if (head->explicit_alter) {
        bool all = reader->reach == ABC_REACH_ALL_OCTAVES;
        for (int o = all ? 0 : head->octave; o < (all ? ABC_OCTAVES : head->octave + 1); o++)
            if (reader->reach != ABC_REACH_NOTE) voice->accidentals[o][head->letter] = (int8_t)head->alter;
        return head->alter;
    }
    int in_bar = voice->accidentals[head->octave][head->letter];
    if (in_bar != ABC_NO_ACCIDENTAL) return in_bar;
    if (voice->tied && voice->tied_letter == head->letter && voice->tied_octave == head->octave)
        return voice->tied_alter;
    return voice->key.signature[head->letter];
}

static int64_t rhythm(struct abc_voice *voice, long top, long bottom)
{
    int64_t len = voice->unit * top / bottom;
    if (voice->tuplet_left > 0) {
        len = len * voice->tuplet_q / voice->tuplet_p;
        voice->tuplet_left--;
    }
    if (voice->broken > 0) len >>= voice->broken;
    if (voice->broken < 0) len = len * ((2 << -voice->broken) - 1) >> -voice->broken;
    voice->broken = 0;
    return len;
}

static enum us_status advance(struct abc_reader *reader, int64_t len, long index)
{
    struct abc_voice *voice = &reader->voices[reader->voice];
    if (len < 1) return abc_error(reader, "a note without any length; make it longer");
    voice->last_at = voice->at;
    voice->last_note = index;
    voice->has_last = true;
    voice->at += len;
    if (voice->at > US_WRITTEN_TICKS_MAX) return abc_error(reader, "the tune is too long; make it shorter");
    return US_STATUS_OK;
}

static enum us_status add_note(struct abc_reader *reader, const struct us_written_note *note)
{
    struct us_written *out = reader->out;
    int v = reader->voice;
    if (v >= US_WRITTEN_VOICES) {
        reader->discarded = *note;
        return advance(reader, note->len, -1);
    }
    if (out->note_count[v] >= US_WRITTEN_NOTES_MAX)
        return abc_error(reader, "more than %d notes in one tune; split it", US_WRITTEN_NOTES_MAX);
    if (!us_grow((void **)&out->notes[v], &out->note_room[v], out->note_count[v], sizeof *note))
        return abc_no_memory(reader);
    out->notes[v][out->note_count[v]] = *note;
    return advance(reader, note->len, (long)out->note_count[v]++);
}

/* Puts the note into the voice with all that waits for it: slur, line start, broken rhythm, tuplet. */
static enum us_status place(struct abc_reader *reader, const struct head *head, int alter, long top,
                            long bottom)
{
    struct abc_voice *voice = &reader->voices[reader->voice];
    int pitch =
        12 * (head->octave + voice->octave) + LETTER_SEMITONES[head->letter] + alter + voice->transpose;
    if (pitch < 0 || pitch > 127)
        return abc_error(reader, "a note beyond the keyboard; take octave marks away");
    int spelling = LETTER_FIFTHS[head->letter] + 7 * alter;
    if (voice->transpose) spelling += us_pitch_class(voice->transpose * 7);
    struct us_written_note note = {.at = voice->at, .pitch = (int16_t)pitch, .spelling = (int8_t)spelling};
    note.len = rhythm(voice, top, bottom);
    if (voice->slur_open) note.flags |= US_WRITTEN_SLUR_OPEN;
    if (voice->line_start) note.flags |= US_WRITTEN_LINE;
    voice->slur_open = voice->line_start = voice->tied = false;
    voice->tied_letter = head->letter;
    voice->tied_octave = head->octave;
    voice->tied_alter = alter;
    return add_note(reader, &note);
}

enum us_status abc_note(struct abc_reader *reader, const char **p)
{
    struct head head;
    long top, bottom;
    enum us_status status = read_head(reader, p, &head);
    if (!status) status = read_length(reader, p, &top, &bottom);
    if (status) return status;
    if (!in_range(&head)) return abc_error(reader, "a note beyond the keyboard; take octave marks away");
    return place(reader, &head, alteration(reader, &head), top, bottom);
}

/* Notes that sound together: the highest one is the melody. */
enum us_status abc_chord(struct abc_reader *reader, const char **p)
{
    struct head best = {0};
    int best_alter = 0, best_pitch = -1000;
    long top = 1, bottom = 1, outer_top, outer_bottom;
    bool tie = false;
    for ((*p)++; **p != ']';) {
        struct head head;
        long n, d;
        if (!**p) return abc_error(reader, "a [ without its ]; close the chord");
        if (**p == '-' || strchr("() .~!", **p)) {
            tie = tie || **p == '-';
            (*p)++;
            continue;
        }
        enum us_status status = read_head(reader, p, &head);
        if (!status) status = read_length(reader, p, &n, &d);
        if (status) return status;
        if (!in_range(&head)) return abc_error(reader, "a note beyond the keyboard; take octave marks away");
        int alter = alteration(reader, &head);
        int pitch = 12 * head.octave + LETTER_SEMITONES[head.letter] + alter;
        if (best_pitch == -1000) top = n, bottom = d;
        if (pitch > best_pitch) best = head, best_alter = alter, best_pitch = pitch;
    }
    (*p)++;
    if (best_pitch == -1000) return abc_error(reader, "an empty chord []; write its notes or take it out");
    enum us_status status = read_length(reader, p, &outer_top, &outer_bottom);
    if (!status) status = place(reader, &best, best_alter, top * outer_top, bottom * outer_bottom);
    if (!status && tie && reader->voices[reader->voice].last_note >= 0) {
        reader->voices[reader->voice].tied = true;
        reader->out->notes[reader->voice][reader->voices[reader->voice].last_note].flags |= US_WRITTEN_TIE;
    }
    return status;
}

/* Rests of several bars: Z4, with bar lines between them. */
static enum us_status bar_rests(struct abc_reader *reader, long bars)
{
    struct abc_voice *voice = &reader->voices[reader->voice];
    int64_t bar = (int64_t)(us_metre_bar_quarters(voice->metre) * US_TICKS);
    for (long i = 0; i < bars; i++) {
        if (i && reader->voice == 0) {
            enum us_status status = abc_close_bar(reader);
            if (status) return status;
        }
        enum us_status status = advance(reader, bar, -1);
        if (status) return status;
    }
    return US_STATUS_OK;
}

enum us_status abc_rest(struct abc_reader *reader, const char **p)
{
    struct abc_voice *voice = &reader->voices[reader->voice];
    char kind = *(*p)++;
    long top, bottom;
    enum us_status status = read_length(reader, p, &top, &bottom);
    if (status) return status;
    voice->tied = false;
    if (kind == 'Z' || kind == 'X') return bar_rests(reader, top);
    return advance(reader, rhythm(voice, top, bottom), -1);
}

/* The next note starts elsewhere, and so do the chord symbols that were read before it. */
static void move_next(struct abc_reader *reader, int64_t to)
{
    struct abc_voice *voice = &reader->voices[reader->voice];
    for (size_t i = reader->out->chord_count; reader->voice == 0 && i > 0; i--) {
        if (reader->out->chords[i - 1].at != voice->at) break;
        reader->out->chords[i - 1].at = to;
    }
    voice->at = to;
}

/* a>b: the first is dotted, the second halved; a>>b: double dotted and quartered; < the other way round. */
enum us_status abc_broken_rhythm(struct abc_reader *reader, const char **p)
{
    struct abc_voice *voice = &reader->voices[reader->voice];
    char sign = **p;
    int halvings = 0;
    for (; **p == sign; (*p)++)
        halvings++;
    if (halvings > 3) return abc_error(reader, "more than three signs of broken rhythm; keep at most >>>");
    if (!voice->has_last || voice->broken)
        return abc_error(reader, "a broken rhythm (%c) without a note before it; put it between two notes",
                         sign);
    int64_t len = voice->at - voice->last_at;
    int64_t longer = len * ((2 << halvings) - 1) >> halvings, shorter = len >> halvings;
    len = sign == '>' ? longer : shorter;
    move_next(reader, voice->last_at + len);
    if (voice->last_note >= 0) reader->out->notes[reader->voice][voice->last_note].len = len;
    voice->broken = sign == '>' ? halvings : -halvings;
    return US_STATUS_OK;
}

/* (p:q:r: p notes in the time of q, for the next r notes. */
enum us_status abc_tuplet(struct abc_reader *reader, const char **p)
{
    struct abc_voice *voice = &reader->voices[reader->voice];
    static const int TIME_OF[] = {0, 0, 3, 2, 3, 0, 2, 0, 3, 0};
    long values[3] = {0, 0, 0};
    (*p)++;
    for (int i = 0; i < 3; i++) {
        if (isdigit((unsigned char)**p)) values[i] = strtol(*p, (char **)p, 10);
        if (i == 2 || **p != ':') break;
        (*p)++;
    }
    bool compound = us_metre_is_compound(voice->metre);
    if (values[0] >= 2 && values[0] <= 9 && !values[1]) {
        values[1] = TIME_OF[values[0]];
        if (!values[1]) values[1] = compound ? 3 : 2;
    }
    if (!values[2]) values[2] = values[0];
    if (values[0] < 2 || values[0] > 32 || values[1] < 1 || values[1] > 32 || values[2] < 1 || values[2] > 64)
        return abc_error(reader, "a tuplet out of range; write (3 for a triplet, or (5:4 and so on");
    voice->tuplet_p = (int)values[0];
    voice->tuplet_q = (int)values[1];
    voice->tuplet_left = (int)values[2];
    return US_STATUS_OK;
}
