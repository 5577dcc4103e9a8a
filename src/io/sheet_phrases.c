/* Phrase marks and slurs over the melody of a lesson sheet. */
#include "sheet_parts.h"
#include "written.h"

static const double NEAR = 1e-6;

struct place {
    const struct page *page;
    double at;
};

static bool bar_before(const void *sought, size_t i)
{
    const struct place *p = sought;
    return p->page->bars[i].at + p->page->bars[i].len - NEAR <= p->at;
}

/* Where the tune is on the page; -1 where this pass is not the one on the page.  The page's bars stand in the
   order in which they are first played. */
static int32_t page_place(const struct page *page, double at)
{
    size_t i = us_first_not(page->sheet->bar_count, bar_before, &(struct place){page, at});
    if (i == page->sheet->bar_count || at <= page->bars[i].at - NEAR) return -1;
    return page->bars[i].page_at + page_ticks(at - page->bars[i].at);
}

static size_t note_from(const struct us_sheet *sheet, int32_t at)
{
    return sounds_from(sheet->melody, sheet->melody_count, at);
}

static void mark_slurs(struct page *page)
{
    struct us_sheet *sheet = page->sheet;
    for (size_t i = 0; i < page->tune->slur_count; i++) {
        const struct us_slur *slur = &page->tune->slurs[i];
        int32_t at = page_place(page, slur->at);
        if (at < 0) continue;
        size_t first = note_from(sheet, at);
        size_t end = note_from(sheet, at + page_ticks(slur->len));
        if (first >= sheet->melody_count || end < first + 2) continue;
        sheet->melody[first].slur_opens = true;
        sheet->melody[end - 1].slur_closes = true;
    }
}

/* A phrase mark cannot go over a bracket. */
static bool bar_breaks(const struct us_sheet *sheet, size_t i)
{
    return sheet->bars[i].endings || (i > 0 && sheet->bars[i - 1].closes && sheet->bars[i - 1].repeat_times);
}

void page_mark_phrases(struct page *page)
{
    struct us_sheet *sheet = page->sheet;
    mark_slurs(page);
    if (sheet->melody_count < 2) return;
    for (size_t i = 0; i < page->phrase_count; i++) {
        int32_t at = page_place(page, page->phrase_starts[i]);
        size_t first = at < 0 ? sheet->melody_count : note_from(sheet, at);
        if (first < sheet->melody_count) sheet->melody[first].phrase_opens = true;
    }
    for (size_t i = 1; i < sheet->bar_count; i++) {
        size_t first = bar_breaks(sheet, i) ? note_from(sheet, sheet->bars[i].at) : sheet->melody_count;
        if (first < sheet->melody_count) sheet->melody[first].phrase_opens = true;
    }
    sheet->melody[0].phrase_opens = true;
    for (size_t i = 0; i < sheet->melody_count; i++)
        sheet->melody[i].phrase_closes = i + 1 == sheet->melody_count || sheet->melody[i + 1].phrase_opens;
    for (size_t i = 0; i < sheet->melody_count; i++)
        if (sheet->melody[i].phrase_opens && sheet->melody[i].phrase_closes)
            sheet->melody[i].phrase_opens = sheet->melody[i].phrase_closes = false;
}
