/* Lesson sheets: a tune laid out for the page in one key, with chords, a left hand, fingers and phrases, and
   the writers that turn it into LilyPond source and plain text.  Not for the realtime thread. */
#ifndef UNDERSONG_SHEET_H
#define UNDERSONG_SHEET_H

#include <stdio.h>

#include "undersong/harmony.h"
#include "undersong/status.h"
#include "undersong/texture.h"
#include "undersong/tune.h"

/* Ticks of a quarter note on the page; divisible by 32, 3 and 5. */
enum { US_SHEET_QUARTER = 480 };

enum us_sheet_under { US_SHEET_UNDER_STEPS, US_SHEET_UNDER_SYLLABLES, US_SHEET_UNDER_NOTHING };

struct us_sheet_settings {
    struct us_key key;     /* to lay the tune out in; US_NO_KEY: its own */
    struct us_metre metre; /* top 0: the tune's own */
    double pickup;         /* quarters before the first bar line; negative: the tune's own */
    enum us_chords chords;
    enum us_change change;
    enum us_texture texture;
    bool left_hand; /* false: chord names only */
    bool fingering;
    double span_semitones; /* of the right hand, see fingering.h; 0: a grown-up's */
    enum us_sheet_under under;
    enum us_syllables syllables;
};

/* Notes struck together, lowest first.  `place` is the spelling on the line of fifths: F -1, C 0, G 1. */
struct us_sheet_sound {
    int32_t at, len; /* ticks on the page */
    struct us_key key;
    uint8_t count;
    uint8_t finger; /* 1 to 5 in the melody where asked for, else 0 */
    uint8_t pitch[US_LEFT_NOTES_MAX];
    int8_t place[US_LEFT_NOTES_MAX];
    bool slur_opens, slur_closes, phrase_opens, phrase_closes;
};

struct us_sheet_chord {
    int32_t at, len;
    struct us_key key;
    struct us_chord chord;
    struct us_chord other; /* what else would do; US_NO_CHORD where nothing else does */
};

/* A bar as written: repeats are folded. */
struct us_sheet_bar {
    int32_t at, len;
    struct us_key key;
    uint32_t written; /* as in struct us_bar, where the bars are the tune's own */
    struct us_metre metre;
    uint16_t endings;     /* as in struct us_bar */
    uint8_t repeat_times; /* as in struct us_bar */
    bool repeat_from, closes;
};

struct us_sheet {
    struct us_sheet_settings settings;
    struct us_key key;
    struct us_metre metre;
    double quarters_a_minute;
    char title[200], composer[200];
    struct us_sheet_bar *bars;
    size_t bar_count;
    struct us_sheet_sound *melody, *second, *left; /* `second`: another voice for the right hand, or none */
    size_t melody_count, second_count, left_count;
    struct us_sheet_chord *chords;
    size_t chord_count;
    int shift, fifths; /* from the tune: semitones, and places on the line of fifths */
    bool own_bars;     /* the bars are the tune's own, repeats folded; else the metre made them */
};

/* Lays `tune` out.  `name` stands for it in messages.  A tune without notes is US_STATUS_BAD_INPUT.  On
   failure there is nothing to finish. */
enum us_status us_sheet_arrange(struct us_sheet *sheet, const struct us_tune *tune,
                                const struct us_sheet_settings *settings, const char *name,
                                struct us_error *error) US_WARN_UNUSED;
/* Frees what the sheet owns; harmless on a zeroed one. */
void us_sheet_finish(struct us_sheet *sheet);

/* LilyPond source (version 2.24) of the tune in each of the keys, one page a key where that fits.  `large`:
   for classrooms and weak eyes. */
void us_sheet_lilypond(const struct us_sheet *sheets, size_t count, bool large, FILE *out);
/* The sheet as plain text: steps, chords and fingers, as many bars a line as fit into `width` columns, but at
   least one.  Nothing is written where memory ends. */
void us_sheet_text(const struct us_sheet *sheet, int width, FILE *out);

/* MusicXML 4.0: the keys one after the other, each on a new page, with the left hand on a staff of its own.
 */
void us_sheet_musicxml(const struct us_sheet *sheets, size_t count, FILE *out);
/* abc 2.1 of the tune that the sheet was made from, in the sheet's key, with its chords and, where it has
   one, its left hand as a voice of its own in the bass clef. Errors as us_abc_write. */
enum us_status us_sheet_abc(const struct us_sheet *sheet, const struct us_tune *tune, int number, FILE *out,
                            struct us_error *error) US_WARN_UNUSED;

/* "re" or "2" for the sound's lowest note in its key, as the sheet shows it; "" where nothing is asked for.
 * Returns `out`.
 */
char *us_sheet_word(const struct us_sheet *sheet, const struct us_sheet_sound *sound, char *out, size_t size);

#endif
