/* The bars of a lesson sheet, and the melody laid into them. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "sheet_parts.h"

static const double NEAR = 1e-6;

static double tune_end(const struct us_tune *tune)
{
    double end = 0;
    for (size_t i = 0; i < tune->note_count; i++)
        end = fmax(end, tune->notes[i].at + tune->notes[i].len);
    return end;
}

/* Whether the bars that the tune brings along are the ones asked for. */
static bool has_own_bars(const struct page *page)
{
    const struct us_sheet_settings *s = &page->sheet->settings;
    bool metre_differs = s->metre.top && !us_metre_equal(s->metre, page->tune->metre);
    bool pickup_differs = s->pickup >= 0 && fabs(s->pickup - page->tune->pickup) > NEAR;
    return page->tune->bar_count && !metre_differs && !pickup_differs;
}

static bool make_room(struct page *page, size_t count)
{
    page->sheet->bars = calloc(count + 1, sizeof *page->sheet->bars);
    page->bars = calloc(count + 1, sizeof *page->bars);
    return page->sheet->bars && page->bars;
}

static void add_bar(struct page *page, double at, double len, struct us_sheet_bar bar)
{
    size_t i = page->sheet->bar_count++;
    int32_t page_at = i ? page->sheet->bars[i - 1].at + page->sheet->bars[i - 1].len : 0;
    bar.at = page_at;
    bar.len = page_ticks(len);
    page->sheet->bars[i] = bar;
    bool joined = i > 0 && fabs(page->bars[i - 1].at + page->bars[i - 1].len - at) < NEAR;
    page->bars[i] = (struct page_bar){at, len, page_at, joined};
}

/* The metre alone makes the bars. */
static bool make_bars(struct page *page)
{
    double bar = us_metre_bar_quarters(page->sheet->metre), end = tune_end(page->tune);
    if (!make_room(page, (size_t)(end / bar) + 3)) return false;
    struct us_sheet_bar shape = {.metre = page->sheet->metre, .key = page->sheet->key};
    double at = 0;
    if (page->pickup > NEAR && page->pickup < bar - NEAR) {
        add_bar(page, 0, page->pickup, shape);
        at = page->pickup;
    }
    for (; at < end - NEAR; at += bar)
        add_bar(page, at, bar, shape);
    return true;
}

/* The bar's key on the sheet.  What the tune's head says may have been too little (no key, or C for lack of a
   better one): then the key that was found holds. */
static struct us_key moved_key(const struct page *page, struct us_key key)
{
    if (key.tonic == US_NO_KEY || us_key_equal(key, page->tune->key)) return page->sheet->key;
    key.tonic = (int8_t)us_pitch_class(key.tonic + page->sheet->shift);
    return key;
}

/* The written bars, each where it is first played.  What stands on the page is worth the repeat signs only
   where the tune plays it again. */
static bool fold_bars(struct page *page)
{
    const struct us_tune *tune = page->tune;
    bool *seen = calloc(us_tune_written_bars(tune) + 1, sizeof *seen);
    if (!seen || !make_room(page, tune->bar_count)) {
        free(seen);
        return false;
    }
    for (size_t i = 0; i < tune->bar_count; i++) {
        const struct us_bar *bar = &tune->bars[i];
        if (seen[bar->written] || bar->len < NEAR) continue;
        seen[bar->written] = true;
        add_bar(page, bar->at, bar->len,
                (struct us_sheet_bar){.metre = bar->metre.top ? bar->metre : page->sheet->metre,
                                      .key = moved_key(page, bar->key),
                                      .written = bar->written,
                                      .endings = bar->endings,
                                      .repeat_times = bar->repeat_times,
                                      .repeat_from = bar->repeat_from,
                                      .closes = bar->closes});
    }
    free(seen);
    return true;
}

bool page_lay_bars(struct page *page)
{
    page->sheet->own_bars = has_own_bars(page);
    bool ok = page->sheet->own_bars ? fold_bars(page) : make_bars(page);
    return ok && page->sheet->bar_count;
}

bool sheet_bar_counts(const struct us_sheet *sheet, size_t i)
{
    const struct us_sheet_bar *bar = &sheet->bars[i];
    if (bar->len >= page_ticks(us_metre_bar_quarters(bar->metre))) return true;
    return i > 0 && !bar[-1].repeat_times && !bar[-1].closes;
}

/* How far the tune plays on from bar `i` as the page has it, in quarters of the tune. */
static double run_end(const struct page *page, size_t i)
{
    while (i + 1 < page->sheet->bar_count && page->bars[i + 1].joined)
        i++;
    return page->bars[i].at + page->bars[i].len;
}

/* One voice of the tune: where it goes on the page. */
struct voice {
    const struct us_note *notes;
    size_t count;
    const int8_t *spelling; /* may be NULL */
    struct us_sheet_sound *sounds;
    size_t sound_count;
};

static struct us_sheet_sound lay_note(const struct page *page, const struct voice *voice, size_t n, size_t b,
                                      double end)
{
    const struct us_sheet *sheet = page->sheet;
    const struct us_note *note = &voice->notes[n];
    const struct page_bar *bar = &page->bars[b];
    double len = fmin(note->at + note->len, end) - note->at;
    if (n + 1 < voice->count) len = fmin(len, fmax(0, note[1].at - note->at));
    struct us_sheet_sound sound = {
        .at = bar->page_at + page_ticks(note->at - bar->at), .key = sheet->bars[b].key, .count = 1};
    sound.len = page_ticks(note->at - bar->at + len) - page_ticks(note->at - bar->at);
    int pitch = note->pitch + sheet->shift;
    int place = voice->spelling ? voice->spelling[n] + sheet->fifths : us_key_spelling(sound.key, pitch);
    sound.pitch[0] = (uint8_t)(pitch < 0 ? 0 : pitch > 127 ? 127 : pitch);
    sound.place[0] = (int8_t)place;
    return sound;
}

static bool lay_voice(const struct page *page, struct voice *voice)
{
    voice->sounds = calloc(voice->count + 1, sizeof *voice->sounds);
    if (!voice->sounds) return false;
    size_t n = 0;
    for (size_t b = 0; b < page->sheet->bar_count; b++) {
        const struct page_bar *bar = &page->bars[b];
        double end = run_end(page, b);
        if (b == 0 || !bar->joined)
            for (n = 0; n < voice->count && voice->notes[n].at < bar->at - NEAR;)
                n++;
        for (; n < voice->count && voice->notes[n].at < bar->at + bar->len - NEAR; n++) {
            struct us_sheet_sound sound = lay_note(page, voice, n, b, end);
            if (sound.len > 0 && voice->sound_count < voice->count)
                voice->sounds[voice->sound_count++] = sound;
        }
    }
    return true;
}

bool page_lay_melody(struct page *page)
{
    const struct us_tune *tune = page->tune;
    struct us_sheet *sheet = page->sheet;
    struct voice melody = {tune->notes, tune->note_count, tune->spelling, NULL, 0};
    struct voice second = {tune->second, tune->second_count, NULL, NULL, 0};
    bool good = lay_voice(page, &melody) && (!second.count || lay_voice(page, &second));
    sheet->melody = melody.sounds;
    sheet->melody_count = melody.sound_count;
    sheet->second = second.sounds;
    sheet->second_count = second.sound_count;
    return good && sheet->melody_count > 0;
}
