#include "undersong/page.h"

#include <string.h>

/* How short a note may be on the page, in quarters. */
static const float SHORTEST = 0.25f;

void us_page_clear(struct us_page *page)
{
    memset(page, 0, sizeof *page);
}

void us_page_note_on(struct us_page *page, double at, int pitch)
{
    if (page->notes == US_PAGE_NOTES) {
        memmove(page->note, page->note + 1, sizeof page->note - sizeof *page->note);
        page->notes--;
    }
    page->note[page->notes++] = (struct us_page_note){(float)at, SHORTEST, (uint8_t)pitch, false};
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
    if (page->chords == US_PAGE_CHORDS) {
        memmove(page->chord, page->chord + 1, sizeof page->chord - sizeof *page->chord);
        page->chords--;
    }
    page->chord[page->chords++] = (struct us_page_chord){(float)at, chord, false};
}

void us_page_note_ahead(struct us_page *page, double at, double len, int pitch)
{
    if (page->notes < US_PAGE_NOTES)
        page->note[page->notes++] = (struct us_page_note){(float)at, (float)len, (uint8_t)pitch, true};
}

void us_page_chord_ahead(struct us_page *page, double at, struct us_chord chord)
{
    if (page->chords < US_PAGE_CHORDS)
        page->chord[page->chords++] = (struct us_page_chord){(float)at, chord, true};
}
