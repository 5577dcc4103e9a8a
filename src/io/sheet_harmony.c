/* The chords of a lesson sheet and the left hand that plays them. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "sheet_parts.h"
#include "undersong/phrases.h"

static const double NEAR = 1e-6;
/* Another chord is worth marking when it is likely, and nearly as likely as the one that stands there. */
static const double OTHER_LEAST = 0.2, OTHER_RATIO = 0.5;

static bool find_phrases(struct page *page, const struct us_harmony_view *view)
{
    page->phrase_starts = calloc(us_phrases_most(page->tune, view), sizeof *page->phrase_starts);
    if (!page->phrase_starts) return false;
    page->phrase_count =
        us_phrase_starts(page->tune, view, page->sheet->metre, page->pickup, page->phrase_starts);
    return true;
}

/* Where the written key changes, in the time of the tune. */
static bool list_keys(struct page *page, struct us_harmony_request *request)
{
    const struct us_tune *tune = page->tune;
    size_t bars = page->sheet->own_bars ? tune->bar_count : 0;
    page->keys = calloc(bars + 1, sizeof *page->keys);
    if (!page->keys) return false;
    struct us_key now = page->from;
    for (size_t i = 0; i < bars; i++) {
        struct us_key key = tune->bars[i].key;
        if (key.tonic == US_NO_KEY || us_key_equal(key, tune->key)) key = page->from;
        if (us_key_equal(key, now)) continue;
        page->keys[request->key_count].at = tune->bars[i].at;
        page->keys[request->key_count++].key = now = key;
    }
    request->keys = page->keys;
    return true;
}

bool page_judge_harmony(struct page *page)
{
    const struct us_sheet_settings *settings = &page->sheet->settings;
    struct us_harmony_request request = {.tune = page->tune,
                                         .key = page->from,
                                         .metre = page->sheet->metre,
                                         .pickup = page->pickup,
                                         .chords = settings->chords,
                                         .change = settings->change};
    if (!list_keys(page, &request)) return false;
    size_t beats = us_harmony_beats(&request);
    void *workspace = malloc(us_harmony_workspace_size(&request) + 1);
    page->choices = calloc(beats + 1, sizeof *page->choices);
    struct us_harmony_view view = {0};
    bool ok = workspace && page->choices;
    if (ok) {
        page->choice_count = us_harmony_tune(&request, workspace, page->choices, beats, &view);
        ok = find_phrases(page, &view);
    }
    free(workspace);
    return ok;
}

static struct us_chord moved(struct us_chord chord, int shift)
{
    if (chord.root != US_NO_CHORD) chord.root = (int8_t)us_pitch_class(chord.root + shift);
    return chord;
}

static struct us_chord other_chord(const struct us_choice *choice)
{
    if (choice->alternatives && choice->alternative_probability[0] >= OTHER_LEAST &&
        choice->alternative_probability[0] >= OTHER_RATIO * choice->probability)
        return choice->alternative[0];
    return (struct us_chord){US_NO_CHORD, 0};
}

/* The left hand is silent before the first bar line, as it is in a pickup anywhere. */
static bool is_pickup(const struct us_sheet *sheet, size_t i)
{
    const struct us_sheet_bar *bar = &sheet->bars[i];
    if (bar->len >= page_ticks(us_metre_bar_quarters(bar->metre))) return false;
    if (i + 1 >= sheet->bar_count || bar->endings) return false;
    return i == 0 || bar->repeat_from || bar[-1].closes || bar[-1].repeat_times;
}

bool page_lay_chords(struct page *page)
{
    struct us_sheet *sheet = page->sheet;
    size_t room = page->choice_count + sheet->bar_count * 2 + 1;
    sheet->chords = calloc(room, sizeof *sheet->chords);
    if (!sheet->chords) return false;
    size_t c = 0;
    for (size_t b = 0; b < sheet->bar_count; b++) {
        const struct page_bar *bar = &page->bars[b];
        if (is_pickup(sheet, b)) continue;
        if (!bar->joined) c = 0;
        while (c < page->choice_count && page->choices[c].at + page->choices[c].len < bar->at + NEAR)
            c++;
        for (size_t i = c; i < page->choice_count && page->choices[i].at < bar->at + bar->len - NEAR; i++) {
            const struct us_chord_choice *choice = &page->choices[i];
            double from = fmax(choice->at, bar->at) - bar->at;
            double until = fmin(choice->at + choice->len, bar->at + bar->len) - bar->at;
            if (choice->choice.chord.root == US_NO_CHORD || sheet->chord_count >= room) continue;
            sheet->chords[sheet->chord_count++] = (struct us_sheet_chord){
                .at = bar->page_at + page_ticks(from),
                .len = page_ticks(until) - page_ticks(from),
                .key = sheet->bars[b].key,
                .chord = moved(choice->choice.chord, page->sheet->shift),
                .other = moved(other_chord(&choice->choice), page->sheet->shift),
            };
        }
    }
    return true;
}

/* Spelled as the chord's root, third, fifth and seventh. */
static int chord_place(struct us_key key, struct us_chord chord, int pitch)
{
    static const int8_t FIFTHS_ABOVE[US_PITCH_CLASSES] = {0, -5, 2, -3, 4, -1, -6, 1, -4, 3, -2, 5};
    return us_key_spelling(key, chord.root) + FIFTHS_ABOVE[us_pitch_class(pitch - chord.root)];
}

/* The voice's note at `at`, or -1 where it rests; `lowest` becomes its lowest one until `until` if that is
 * lower. */
static int voice_at(const struct us_sheet_sound *sounds, size_t count, int32_t at, int32_t until, int *lowest)
{
    int now = -1;
    size_t first = sounds_from(sounds, count, at);
    if (first) first--; /* it may still sound */
    for (size_t i = first; i < count && sounds[i].at < until; i++) {
        const struct us_sheet_sound *s = &sounds[i];
        if (s->at + s->len <= at) continue;
        if (s->at <= at) now = s->pitch[0];
        if (s->pitch[0] < *lowest) *lowest = s->pitch[0];
    }
    return now;
}

static void add_strike(struct us_sheet *sheet, const struct us_sheet_chord *chord, int32_t bar_at,
                       const struct us_strike *strike)
{
    struct us_sheet_sound sound = {.at = bar_at + page_ticks(strike->at)};
    sound.len = bar_at + page_ticks(strike->at + strike->len) - sound.at;
    sound.count = strike->notes.count;
    for (int i = 0; i < strike->notes.count; i++) {
        sound.pitch[i] = strike->notes.pitch[i];
        sound.place[i] = (int8_t)chord_place(chord->key, chord->chord, strike->notes.pitch[i]);
    }
    int32_t end = chord->at + chord->len;
    if (sound.at + sound.len > end) sound.len = end - sound.at;
    if (sheet->left_count) {
        struct us_sheet_sound *before = &sheet->left[sheet->left_count - 1];
        if (before->at + before->len > sound.at) before->len = sound.at - before->at;
    }
    if (sound.count && sound.len > 0) sheet->left[sheet->left_count++] = sound;
}

static void lay_chord(struct us_sheet *sheet, const struct us_sheet_bar *bar,
                      const struct us_sheet_chord *chord, struct us_voicing_context *context)
{
    int lowest = 127;
    int32_t end = chord->at + chord->len;
    context->melody = voice_at(sheet->melody, sheet->melody_count, chord->at, end, &lowest);
    int second = voice_at(sheet->second, sheet->second_count, chord->at, end, &lowest);
    if (second >= 0 && second < context->melody) context->melody = second;
    context->highest = lowest - 1 < US_LEFT_HIGHEST ? lowest - 1 : US_LEFT_HIGHEST;
    struct us_strike strikes[US_STRIKES_MAX];
    double from = (chord->at - bar->at) / (double)US_SHEET_QUARTER;
    double until = from + chord->len / (double)US_SHEET_QUARTER;
    enum us_texture texture = sheet->settings.texture;
    enum us_role role = us_chord_role(chord->chord, chord->key);
    context->key = chord->key;
    size_t count = us_texture_bar(texture, chord->chord, role, bar->metre, from, until, context, strikes);
    for (size_t i = 0; i < count; i++)
        add_strike(sheet, chord, bar->at, &strikes[i]);
    if (count) context->before = us_texture_hand(texture, chord->chord, context);
    context->melody_before = context->melody;
}

bool page_lay_left_hand(struct page *page)
{
    struct us_sheet *sheet = page->sheet;
    if (!sheet->settings.left_hand) return true;
    sheet->left = calloc(sheet->chord_count * US_STRIKES_MAX + 1, sizeof *sheet->left);
    if (!sheet->left) return false;
    struct us_voicing_context context = {.lowest = US_LEFT_LOWEST};
    size_t b = 0;
    for (size_t i = 0; i < sheet->chord_count; i++) {
        while (sheet->bars[b].at + sheet->bars[b].len <= sheet->chords[i].at)
            b++;
        lay_chord(sheet, &sheet->bars[b], &sheet->chords[i], &context);
    }
    return true;
}
