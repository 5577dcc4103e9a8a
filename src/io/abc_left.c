#include "abc_left.h"

#include <stdlib.h>

#include "sheet_parts.h"

enum { TICKS_A_TICK = US_TICKS / US_SHEET_QUARTER };

/* The sheet's bar that is the page's bar `b`: the same where both fold their repeats, else the one that is
   played there. */
static const struct us_sheet_bar *sheet_bar(const struct us_written *page, const struct us_tune *tune,
                                            const struct us_sheet *sheet, size_t b)
{
    const struct us_sheet_bar *bar = NULL;
    if (page->bar_count == sheet->bar_count) {
        bar = &sheet->bars[b];
    } else if (page->bar_count == tune->bar_count) {
        for (size_t i = 0; i < sheet->bar_count && !bar; i++)
            if (sheet->bars[i].written == tune->bars[b].written) bar = &sheet->bars[i];
    }
    return bar && (int64_t)bar->len * TICKS_A_TICK == page->bars[b].len ? bar : NULL;
}

static size_t first_grip(const struct us_sheet *sheet, int32_t at)
{
    return sounds_from(sheet->left, sheet->left_count, at);
}

static void take_bar(struct abc_left *left, const struct us_written_bar *to, const struct us_sheet_bar *from,
                     const struct us_sheet *sheet)
{
    for (size_t i = first_grip(sheet, from->at); i < sheet->left_count; i++) {
        const struct us_sheet_sound *grip = &sheet->left[i];
        if (grip->at >= from->at + from->len) break;
        left->notes[left->count] =
            (struct us_written_note){.at = to->at + (int64_t)(grip->at - from->at) * TICKS_A_TICK,
                                     .len = (int64_t)grip->len * TICKS_A_TICK,
                                     .pitch = grip->pitch[0],
                                     .spelling = grip->place[0]};
        left->grips[left->count++] = grip;
    }
}

bool abc_left_make(struct abc_left *left, const struct us_written *page, const struct us_tune *tune,
                   const struct us_sheet *sheet)
{
    *left = (struct abc_left){0};
    if (!sheet || !sheet->left_count) return true;
    size_t room = 1;
    for (size_t b = 0; b < page->bar_count; b++) {
        const struct us_sheet_bar *bar = sheet_bar(page, tune, sheet, b);
        if (!bar) return true;
        size_t first = first_grip(sheet, bar->at);
        room += first_grip(sheet, bar->at + bar->len) - first;
    }
    left->notes = calloc(room, sizeof *left->notes);
    left->grips = calloc(room, sizeof *left->grips);
    if (!left->notes || !left->grips) return false;
    for (size_t b = 0; b < page->bar_count; b++)
        take_bar(left, &page->bars[b], sheet_bar(page, tune, sheet, b), sheet);
    return true;
}

void abc_left_finish(struct abc_left *left)
{
    free(left->notes);
    free(left->grips);
    *left = (struct abc_left){0};
}

const struct us_sheet_sound *abc_left_grip(const struct abc_left *left, int64_t at)
{
    size_t i = us_first_from(left->notes, left->count, sizeof *left->notes, at + 1);
    return i && left->notes[i - 1].at + left->notes[i - 1].len > at ? left->grips[i - 1] : NULL;
}
