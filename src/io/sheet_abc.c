/* A lesson sheet as abc: the tune moved into the sheet's key, with the sheet's chords. */
#include <stdlib.h>

#include "abc_left.h"
#include "sheet_parts.h"

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
    uint32_t *places; /* for each written bar its place on the sheet, from 1; 0: none */
};

static void add_chords(struct transposed *t, const struct us_sheet *sheet, const struct us_sheet_bar *page,
                       double at)
{
    size_t end = chords_from(sheet, page->at + page->len);
    for (size_t i = chords_from(sheet, page->at); i < end; i++) {
        const struct us_sheet_chord *c = &sheet->chords[i];
        t->chords[t->tune.chord_count++] = (struct us_chord_span){
            at + (c->at - page->at) / (double)US_SHEET_QUARTER, c->len / (double)US_SHEET_QUARTER, c->chord};
    }
}

/* Where the tune's bar stands on the page; NULL where it does not. */
static const struct us_sheet_bar *page_bar(const struct transposed *t, const struct us_sheet *sheet,
                                           const struct us_bar *bar)
{
    uint32_t place = t->places[bar->written];
    return place ? &sheet->bars[place - 1] : NULL;
}

static bool make_room(struct transposed *t, const struct us_sheet *sheet, const struct us_tune *tune)
{
    size_t room = sheet->chord_count;
    t->places = calloc(us_tune_written_bars(tune) + 1, sizeof *t->places);
    if (!t->places) return false;
    for (size_t b = 0; b < sheet->bar_count && sheet->own_bars; b++)
        t->places[sheet->bars[b].written] = (uint32_t)b + 1;
    for (size_t i = 0; i < tune->bar_count && sheet->own_bars; i++) {
        const struct us_sheet_bar *page = page_bar(t, sheet, &tune->bars[i]);
        if (page) room += chords_from(sheet, page->at + page->len) - chords_from(sheet, page->at);
    }
    t->chords = calloc(room + 1, sizeof *t->chords);
    return t->chords != NULL;
}

/* The page's chords each time the bar is played, so that repeats agree. */
static void spread_chords(struct transposed *t, const struct us_sheet *sheet, const struct us_tune *tune)
{
    for (size_t b = 0; b < sheet->bar_count && !sheet->own_bars; b++)
        add_chords(t, sheet, &sheet->bars[b], sheet->bars[b].at / (double)US_SHEET_QUARTER);
    for (size_t i = 0; i < tune->bar_count && sheet->own_bars; i++) {
        const struct us_sheet_bar *page = page_bar(t, sheet, &tune->bars[i]);
        if (page) add_chords(t, sheet, page, tune->bars[i].at);
    }
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
    if (!t->notes || !t->second || !t->spelling || !t->bars || !make_room(t, sheet, tune)) return false;
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
    free(t.places);
    return status;
}
