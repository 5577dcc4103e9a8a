#include "undersong/page.h"

#include <string.h>

/* How short a note may be on the page, in quarters. */
static const float SHORTEST = 0.25f;

void us_page_clear(struct us_page *page)
{
    memset(page, 0, sizeof *page);
}

static void forget_notes(struct us_page *page, int left)
{
    int over = page->notes - left;
    if (over <= 0) return;
    memmove(page->note, page->note + over, (size_t)left * sizeof *page->note);
    page->notes = (uint8_t)left;
}

static void forget_chords(struct us_page *page, int left)
{
    int over = page->chords - left;
    if (over <= 0) return;
    memmove(page->chord, page->chord + over, (size_t)left * sizeof *page->chord);
    page->chords = (uint8_t)left;
}

void us_page_note_on(struct us_page *page, double at, int pitch, bool with)
{
    forget_notes(page, US_PAGE_NOTES - 1);
    struct us_page_note note = {
        .at = (float)at, .len = SHORTEST, .pitch = (uint8_t)pitch, .with = with && page->notes};
    page->note[page->notes++] = note;
    page->here = (float)at;
}

void us_page_note_off(struct us_page *page, double at, int pitch)
{
    for (int i = page->notes - 1; i >= 0; i--) {
        struct us_page_note *n = &page->note[i];
        if (n->pitch != pitch) continue;
        if ((float)at - n->at > n->len) n->len = (float)at - n->at;
        return;
    }
}

void us_page_chord(struct us_page *page, double at, struct us_chord chord)
{
    while (page->chords && page->chord[page->chords - 1].at >= (float)at - 0.02f)
        page->chords--;
    forget_chords(page, US_PAGE_CHORDS - 1);
    page->chord[page->chords++] = (struct us_page_chord){(float)at, chord, false};
}

void us_page_note_ahead(struct us_page *page, double at, double len, int pitch)
{
    if (!page->notes || !page->note[page->notes - 1].ahead) forget_notes(page, US_PAGE_NOTES_PLAYED);
    if (page->notes < US_PAGE_NOTES)
        page->note[page->notes++] =
            (struct us_page_note){.at = (float)at, .len = (float)len, .pitch = (uint8_t)pitch, .ahead = true};
}

void us_page_chord_ahead(struct us_page *page, double at, struct us_chord chord)
{
    if (!page->chords || !page->chord[page->chords - 1].ahead) forget_chords(page, US_PAGE_CHORDS_PLAYED);
    if (page->chords < US_PAGE_CHORDS)
        page->chord[page->chords++] = (struct us_page_chord){(float)at, chord, true};
}
