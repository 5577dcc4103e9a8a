/* A lesson sheet from a tune: its key, its steps one after the other, its fingers and words. */
#include "undersong/sheet.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "sheet_parts.h"
#include "undersong/fingering.h"
#include "undersong/signs.h"
#include "undersong/tune_file.h"
#include "written.h"

int32_t page_ticks(double quarters)
{
    return (int32_t)lround(quarters * US_SHEET_QUARTER);
}

struct place {
    const struct us_sheet_sound *sounds;
    const struct us_sheet_chord *chords;
    int32_t at;
};

static bool sound_before(const void *sought, size_t i)
{
    const struct place *p = sought;
    return p->sounds[i].at < p->at;
}

size_t sounds_from(const struct us_sheet_sound *sounds, size_t count, int32_t at)
{
    return us_first_not(count, sound_before, &(struct place){.sounds = sounds, .at = at});
}

static bool chord_before(const void *sought, size_t i)
{
    const struct place *p = sought;
    return p->chords[i].at < p->at;
}

size_t chords_from(const struct us_sheet *sheet, int32_t at)
{
    return us_first_not(sheet->chord_count, chord_before, &(struct place){.chords = sheet->chords, .at = at});
}

/* Up or down to the new key, whichever lies better under the right hand and on the staff. */
static int choose_shift(const struct us_tune *tune, int tonic_shift)
{
    int low = 127, high = 0, best = 0;
    double best_cost = INFINITY;
    for (size_t i = 0; i < tune->note_count; i++) {
        if (tune->notes[i].pitch < low) low = tune->notes[i].pitch;
        if (tune->notes[i].pitch > high) high = tune->notes[i].pitch;
    }
    for (int shift = -23; shift <= 23; shift++) {
        if (us_pitch_class(shift - tonic_shift)) continue;
        double cost = fabs((low + high) / 2.0 + shift - 70) + 0.01 * abs(shift);
        cost += 3 * fmax(0, 58 - (low + shift)) + 3 * fmax(0, high + shift - 82);
        if (cost < best_cost) best_cost = cost, best = shift;
    }
    return best;
}

static void choose_key(struct page *page)
{
    struct us_sheet *sheet = page->sheet;
    page->from = sheet->key = us_tune_key(page->tune);
    struct us_key wanted = sheet->settings.key;
    if (wanted.tonic == US_NO_KEY || wanted.tonic == page->from.tonic) return;
    sheet->key.tonic = wanted.tonic;
    sheet->shift = choose_shift(page->tune, us_pitch_class(wanted.tonic - page->from.tonic));
    sheet->fifths = us_key_signature(sheet->key) - us_key_signature(page->from);
}

static void copy_words(struct us_sheet *sheet, const struct us_tune *tune)
{
    us_cut_text(tune->title, sheet->title, sizeof sheet->title);
    us_cut_text(tune->composer, sheet->composer, sizeof sheet->composer);
    sheet->quarters_a_minute = tune->quarters_a_minute;
}

bool page_finger(struct page *page)
{
    struct us_sheet *sheet = page->sheet;
    size_t count = sheet->melody_count;
    if (!sheet->settings.fingering || !count) return true;
    struct us_note *notes = calloc(count, sizeof *notes);
    uint8_t *fingers = malloc(count), *workspace = malloc(us_fingering_workspace(count));
    bool ok = notes && fingers && workspace;
    if (ok) {
        for (size_t i = 0; i < count; i++) {
            const struct us_sheet_sound *s = &sheet->melody[i];
            notes[i] = (struct us_note){s->at / (double)US_SHEET_QUARTER, s->len / (double)US_SHEET_QUARTER,
                                        s->pitch[0], 80};
        }
        struct us_fingering_settings settings = {sheet->key, sheet->settings.span_semitones};
        us_fingering_right(notes, count, &settings, workspace, fingers);
        for (size_t i = 0; i < count; i++)
            sheet->melody[i].finger = fingers[i];
    }
    free(notes);
    free(fingers);
    free(workspace);
    return ok;
}

void page_finish(struct page *page)
{
    free(page->bars);
    free(page->keys);
    free(page->choices);
    free(page->phrase_starts);
}

enum us_status us_sheet_arrange(struct us_sheet *sheet, const struct us_tune *tune,
                                const struct us_sheet_settings *settings, const char *name,
                                struct us_error *error)
{
    *sheet = (struct us_sheet){.settings = *settings};
    if (!tune->note_count)
        return us_error_set(error, US_STATUS_BAD_INPUT, "%.200s: there is no note in this tune", name);
    struct page page = {.tune = tune, .sheet = sheet};
    choose_key(&page);
    sheet->metre = settings->metre.top ? settings->metre : tune->metre;
    if (!sheet->metre.top) sheet->metre = (struct us_metre){4, 4};
    if (settings->pickup > 0) /* whole bars are none of it */
        sheet->settings.pickup = fmod(settings->pickup, us_metre_bar_quarters(sheet->metre));
    page.pickup = settings->pickup >= 0 ? sheet->settings.pickup : tune->pickup;
    copy_words(sheet, tune);
    bool ok = page_lay_bars(&page) && page_judge_harmony(&page) && page_lay_melody(&page) &&
              page_lay_chords(&page) && page_lay_left_hand(&page) && page_finger(&page);
    if (ok) page_mark_phrases(&page);
    page_finish(&page);
    if (ok) return US_STATUS_OK;
    us_sheet_finish(sheet);
    return us_error_set(error, US_STATUS_NO_MEMORY, "%.200s: out of memory", name);
}

void us_sheet_finish(struct us_sheet *sheet)
{
    free(sheet->bars);
    free(sheet->melody);
    free(sheet->second);
    free(sheet->left);
    free(sheet->chords);
    *sheet = (struct us_sheet){0};
}

char *us_sheet_word(const struct us_sheet *sheet, const struct us_sheet_sound *sound, char *out, size_t size)
{
    int pitch = sound->pitch[0];
    static const char *const SIGNS[] = {"b", "", "#"};
    out[0] = 0;
    if (sound->key.tonic == US_NO_KEY || sheet->settings.under == US_SHEET_UNDER_NOTHING) return out;
    if (sheet->settings.under == US_SHEET_UNDER_SYLLABLES) {
        snprintf(out, size, "%s", us_key_syllable(sound->key, pitch, sheet->settings.syllables));
    } else {
        struct us_step step = us_key_step(sound->key, pitch);
        snprintf(out, size, "%s%d", SIGNS[step.alter + 1], step.number);
    }
    return out;
}
