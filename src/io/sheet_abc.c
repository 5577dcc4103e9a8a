/* A lesson sheet as abc: the tune moved into the sheet's key, with the sheet's chords. */
#include <stdlib.h>

#include "abc_left.h"

static struct us_key moved(struct us_key key, int shift)
{
    if (key.tonic != US_NO_KEY) key.tonic = (int8_t)us_pitch_class(key.tonic + shift);
    return key;
}

static struct us_note *moved_notes(const struct us_note *notes, size_t count, int shift)
{
    struct us_note *out = calloc(count + 1, sizeof *out);
    for (size_t i = 0; out && i < count; i++) {
        out[i] = notes[i];
        int pitch = out[i].pitch + shift;
        out[i].pitch = (int16_t)(pitch < 0 ? 0 : pitch > 127 ? 127 : pitch);
    }
    return out;
}

/* Everything that the transposed tune looks at. */
struct transposed {
    struct us_tune tune;
    struct us_note *notes, *second;
    int8_t *spelling;
    struct us_bar *bars;
    struct us_chord_span *chords;
};

static void add_chords(struct transposed *t, const struct us_sheet *sheet, const struct us_sheet_bar *page,
                       double at)
{
    for (size_t i = 0; i < sheet->chord_count; i++) {
        const struct us_sheet_chord *c = &sheet->chords[i];
        if (c->at < page->at || c->at >= page->at + page->len) continue;
        t->chords[t->tune.chord_count++] = (struct us_chord_span){
            at + (c->at - page->at) / (double)US_SHEET_QUARTER, c->len / (double)US_SHEET_QUARTER, c->chord};
    }
}

/* The page's chords each time the bar is played, so that repeats agree. */
static void spread_chords(struct transposed *t, const struct us_sheet *sheet, const struct us_tune *tune)
{
    if (!sheet->own_bars) {
        for (size_t b = 0; b < sheet->bar_count; b++)
            add_chords(t, sheet, &sheet->bars[b], sheet->bars[b].at / (double)US_SHEET_QUARTER);
        return;
    }
    for (size_t i = 0; i < tune->bar_count; i++)
        for (size_t b = 0; b < sheet->bar_count; b++)
            if (sheet->bars[b].written == tune->bars[i].written)
                add_chords(t, sheet, &sheet->bars[b], tune->bars[i].at);
}

/* A pickup keeps the chord before it: a sign for silence there would make the repeats differ. */
static void close_gaps(struct transposed *t)
{
    for (size_t i = 0; i + 1 < t->tune.chord_count; i++)
        t->chords[i].len = t->chords[i + 1].at - t->chords[i].at;
}

static bool transpose(struct transposed *t, const struct us_sheet *sheet, const struct us_tune *tune)
{
    size_t bars = sheet->own_bars ? tune->bar_count : 0;
    *t = (struct transposed){.tune = *tune};
    t->notes = moved_notes(tune->notes, tune->note_count, sheet->shift);
    t->second = moved_notes(tune->second, tune->second_count, sheet->shift);
    t->spelling = calloc(tune->note_count + 1, 1);
    t->bars = calloc(bars + 1, sizeof *t->bars);
    t->chords = calloc((sheet->chord_count + 1) * (bars + 1), sizeof *t->chords);
    if (!t->notes || !t->second || !t->spelling || !t->bars || !t->chords) return false;
    for (size_t i = 0; i < tune->note_count && tune->spelling; i++)
        t->spelling[i] = (int8_t)(tune->spelling[i] + sheet->fifths);
    for (size_t i = 0; i < bars; i++) {
        t->bars[i] = tune->bars[i];
        t->bars[i].key = moved(t->bars[i].key, sheet->shift);
    }
    t->tune.notes = t->notes;
    t->tune.second = t->second;
    t->tune.spelling = tune->spelling ? t->spelling : NULL;
    t->tune.bars = t->bars;
    t->tune.bar_count = bars;
    t->tune.chords = t->chords;
    t->tune.chord_count = 0;
    t->tune.key = sheet->key;
    t->tune.metre = sheet->metre;
    if (!sheet->own_bars && sheet->bars[0].len < sheet->bars[sheet->bar_count > 1].len)
        t->tune.pickup = sheet->bars[0].len / (double)US_SHEET_QUARTER;
    spread_chords(t, sheet, tune);
    close_gaps(t);
    return true;
}

enum us_status us_sheet_abc(const struct us_sheet *sheet, const struct us_tune *tune, int number, FILE *out,
                            struct us_error *error)
{
    struct transposed t;
    enum us_status status = transpose(&t, sheet, tune)
                                ? abc_write_with_left(&t.tune, sheet, number, out, error)
                                : us_error_no_memory(error);
    free(t.notes);
    free(t.second);
    free(t.spelling);
    free(t.bars);
    free(t.chords);
    return status;
}
