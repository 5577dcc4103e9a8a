/* Shared by the files that lay a lesson sheet out. */
#ifndef SHEET_PARTS_H
#define SHEET_PARTS_H

#include "undersong/sheet.h"

/* A bar of the page and where the tune first plays it. */
struct page_bar {
    double at, len; /* quarters in the tune */
    int32_t page_at;
    bool joined; /* the tune goes on into it from the page's bar before */
};

struct page {
    const struct us_tune *tune;
    struct us_sheet *sheet;
    struct page_bar *bars; /* as many as sheet->bar_count */
    struct us_key from;    /* the tune's key */
    double pickup;
    struct us_key_span *keys; /* changes of key, in quarters of the tune */
    struct us_chord_choice *choices;
    size_t choice_count;
    double *phrase_starts; /* quarters in the tune */
    size_t phrase_count;
};

/* Quarters to ticks of the page. */
int32_t page_ticks(double quarters);

/* Each step fills its part of page->sheet; false when memory ends. */
bool page_lay_bars(struct page *page);
bool page_judge_harmony(struct page *page);
bool page_lay_melody(struct page *page);
bool page_lay_chords(struct page *page);
bool page_lay_left_hand(struct page *page);
bool page_finger(struct page *page);
void page_mark_phrases(struct page *page);
void page_finish(struct page *page);

/* The first of a voice's sounds, which stand in order, that is not before `at`. */
size_t sounds_from(const struct us_sheet_sound *sounds, size_t count, int32_t at);
/* The first of the sheet's chords that is not before `at`. */
size_t chords_from(const struct us_sheet *sheet, int32_t at);
/* Whether bar `i` has a number: a pickup has none, nor has the second half of a bar that a repeat sign
 * divides.
 */
bool sheet_bar_counts(const struct us_sheet *sheet, size_t i);

#endif
