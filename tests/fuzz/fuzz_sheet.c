/* Any tune, however odd its notes, bars and chords: it is laid out and written in every form without harm. */
#include <string.h>

#include "fuzz.h"
#include "undersong/musicxml.h"
#include "undersong/sheet.h"

enum { NOTES = 60, BARS = 40, CHORDS = 20 };

struct input {
    const uint8_t *data;
    size_t size;
};

static int take(struct input *in, int most)
{
    if (!in->size) return 0;
    in->size--;
    return *in->data++ % (most + 1);
}

/* Sixteenths, triplets, and now and then something that is neither. */
static double length(struct input *in)
{
    int kind = take(in, 15), count = 1 + take(in, 23);
    return kind < 10 ? count / 4.0 : kind < 14 ? count / 3.0 : count * 0.2101;
}

static size_t make_notes(struct input *in, struct us_note *notes, int8_t *spelling)
{
    size_t count = (size_t)take(in, NOTES);
    double at = 0;
    for (size_t i = 0; i < count; i++) {
        notes[i] = (struct us_note){at, length(in), (int16_t)take(in, 127), 80};
        spelling[i] = (int8_t)((us_pitch_class(notes[i].pitch) * 7 + 1) % 12 - 1);
        at += take(in, 7) ? notes[i].len : length(in);
    }
    return count;
}

static size_t make_bars(struct input *in, struct us_bar *bars, struct us_metre metre)
{
    size_t count = (size_t)take(in, BARS);
    double at = 0;
    for (size_t i = 0; i < count; i++) {
        int signs = take(in, 255);
        double len = signs & 7 ? us_metre_bar_quarters(metre) : length(in);
        bars[i] =
            (struct us_bar){.at = at, .len = len, .metre = metre, .key = {0, 0}, .written = (uint32_t)i};
        if (signs >> 3 & 1 && i) bars[i].written = (uint32_t)take(in, (int)i);
        if (signs >> 4 == 3) bars[i].endings = (uint16_t)(2 + take(in, 6));
        if (signs >> 4 == 5) bars[i].repeat_times = (uint8_t)take(in, 4);
        bars[i].repeat_from = signs >> 4 == 7;
        bars[i].closes = signs >> 4 == 9;
        at += len;
    }
    return count;
}

static size_t make_chords(struct input *in, struct us_chord_span *chords)
{
    size_t count = (size_t)take(in, CHORDS);
    double at = 0;
    for (size_t i = 0; i < count; i++) {
        chords[i] = (struct us_chord_span){at, length(in), {(int8_t)take(in, 11), (uint8_t)take(in, 4)}};
        at += chords[i].len;
    }
    return count;
}

static void write_all(const struct us_sheet *sheet, const struct us_tune *tune)
{
    char *text = NULL;
    size_t size = 0;
    struct us_error error;
    FILE *out = open_memstream(&text, &size);
    if (!out) abort();
    us_sheet_lilypond(sheet, 1, tune->note_count & 1, out);
    us_sheet_text(sheet, 20 + (int)tune->note_count * 3, out);
    if (us_sheet_abc(sheet, tune, 1, out, &error)) FUZZ_CHECK(error.text[0]);
    fclose(out);
    free(text);
    out = open_memstream(&text, &size);
    if (!out) abort();
    us_sheet_musicxml(sheet, 1, out);
    fclose(out);
    struct us_tune_file back;
    if (!us_musicxml_read(text, size, "x.musicxml", &back, &error)) us_tune_file_finish(&back);
    free(text);
}

static void check_sounds(const struct us_sheet_sound *sounds, size_t count)
{
    for (size_t i = 0; i < count; i++) {
        FUZZ_CHECK(sounds[i].len > 0 && sounds[i].count >= 1 && sounds[i].count <= US_LEFT_NOTES_MAX);
        FUZZ_CHECK(!i || sounds[i].at >= sounds[i - 1].at);
    }
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    static const struct us_metre METRES[] = {{4, 4}, {3, 4}, {6, 8}, {2, 2}, {5, 4}, {9, 8}, {7, 8}, {0, 4}};
    struct us_note notes[NOTES], second[NOTES];
    int8_t spelling[NOTES], unused[NOTES];
    struct us_bar bars[BARS];
    struct us_chord_span chords[CHORDS];
    struct input in = {data, size};
    struct us_tune tune = {.notes = notes, .second = second, .bars = bars, .chords = chords, .title = "x"};
    tune.metre = METRES[take(&in, 7)];
    tune.key = (struct us_key){(int8_t)(take(&in, 12) - 1), (uint8_t)take(&in, US_MODES - 1)};
    tune.pickup = take(&in, 8) / 2.0;
    struct us_sheet_settings settings = {
        .key = {(int8_t)(take(&in, 12) - 1), 0}, .pickup = -1, .left_hand = take(&in, 3)};
    settings.texture = (enum us_texture)take(&in, US_TEXTURES - 1);
    settings.chords = (enum us_chords)take(&in, 2);
    settings.under = (enum us_sheet_under)take(&in, 2);
    settings.fingering = take(&in, 1);
    tune.note_count = make_notes(&in, notes, spelling);
    tune.spelling = take(&in, 1) ? spelling : NULL;
    if (tune.metre.top) tune.bar_count = make_bars(&in, bars, tune.metre);
    tune.chord_count = make_chords(&in, chords);
    tune.second_count = take(&in, 3) ? 0 : make_notes(&in, second, unused);
    struct us_sheet sheet;
    struct us_error error = {0};
    enum us_status status = us_sheet_arrange(&sheet, &tune, &settings, "x", &error);
    FUZZ_CHECK(!status || error.text[0]);
    if (status) return 0;
    check_sounds(sheet.melody, sheet.melody_count);
    check_sounds(sheet.left, sheet.left_count);
    write_all(&sheet, &tune);
    us_sheet_finish(&sheet);
    return 0;
}
