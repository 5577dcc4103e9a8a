/* In which order the bars of a page are played: repeats, brackets, jumps, parts. */
#include "written.h"

#include <stdlib.h>

/* The playing order of one stretch of bars. */
struct order {
    const struct us_written_bar *bars;
    uint32_t *list;
    size_t count, room;
    bool full, no_memory;
};

static bool emit(struct order *order, size_t bar)
{
    order->full = order->full || order->count >= US_PLAYED_BARS_MAX;
    if (order->full) return false;
    order->no_memory =
        order->no_memory || !us_grow((void **)&order->list, &order->room, order->count, sizeof *order->list);
    if (order->no_memory) return false;
    order->list[order->count++] = (uint32_t)bar;
    return true;
}

/* The bar after the bracket that starts at `i`. */
static size_t ending_end(const struct us_written_bar *bars, size_t i, size_t last)
{
    size_t j = i + 1;
    while (j < last && !bars[j].endings && !bars[j].repeat_from && !bars[j - 1].closes &&
           !bars[j - 1].repeat_times)
        j++;
    return j;
}

/* The highest time that a bracket of the part that starts at `start` is for; 0 where it has none. */
static int highest_ending(const struct us_written_bar *bars, size_t start, size_t last)
{
    int highest = 0;
    for (size_t j = start; j < last && !(j > start && bars[j].repeat_from); j++) {
        if (!bars[j].endings) continue;
        if (highest && (bars[j].endings & 2u)) break;
        int top = 31 - __builtin_clz(bars[j].endings);
        if (top > highest) highest = top;
    }
    return highest;
}

enum { JUMPS_BACK = US_JUMP_DA_CAPO | US_JUMP_DAL_SEGNO };

/* The bar with this sign, or `last`. */
static size_t find_jump(const struct us_written_bar *bars, size_t last, uint8_t jump)
{
    size_t i = 0;
    while (i < last && !(bars[i].jumps & jump))
        i++;
    return i;
}

/* After the jump back repeats are not taken: of several endings the last one counts. */
static bool is_earlier_ending(const struct us_written_bar *bars, size_t i, size_t last)
{
    if (!bars[i].endings) return false;
    size_t next = ending_end(bars, i, last);
    return next < last && bars[next].endings > bars[i].endings;
}

/* From the start or the segno to the fine, or by way of the coda to the end. */
static void order_after_jump(struct order *order, size_t i, size_t last)
{
    const struct us_written_bar *bars = order->bars;
    size_t coda = find_jump(bars, last, US_JUMP_CODA);
    bool in_coda = false;
    while (i < last) {
        if (is_earlier_ending(bars, i, last)) {
            i = ending_end(bars, i, last);
            continue;
        }
        if (!emit(order, i) || bars[i].jumps & (US_JUMP_FINE | JUMPS_BACK)) return;
        bool leave = bars[i].jumps & US_JUMP_TO_CODA && coda < last && !in_coda;
        in_coda = in_coda || leave;
        i = leave ? coda : i + 1;
    }
}

static void order_stretch(struct order *order, size_t first, size_t last)
{
    const struct us_written_bar *bars = order->bars;
    size_t start = first, i = first, bracket_end = 0;
    int pass = 1, highest = 0;
    size_t looked_from = last; /* `highest` is that of the part which starts there */
    while (i < last) {
        const struct us_written_bar *bar = &bars[i];
        if (bar->repeat_from && i != start) start = i, pass = 1;
        if (looked_from != start) highest = highest_ending(bars, looked_from = start, last);
        if (bar->endings && !(bar->endings >> pass & 1)) {
            i = ending_end(bars, i, last);
            continue;
        }
        if (bar->endings) bracket_end = ending_end(bars, i, last);
        if (!emit(order, i)) return;
        int times = bar->repeat_times > highest ? bar->repeat_times : highest;
        if (bar->repeat_times && pass < times) {
            pass++;
            i = start;
            continue;
        }
        if (bar->jumps & JUMPS_BACK) {
            size_t segno = find_jump(bars, last, US_JUMP_SEGNO);
            bool to_segno = bar->jumps & US_JUMP_DAL_SEGNO && segno < last;
            order_after_jump(order, to_segno ? segno : first, last);
            return;
        }
        i++;
        if (bar->repeat_times || (i == bracket_end && pass >= highest)) start = i, pass = 1;
    }
}

/* Bars from the one labelled `part` to the next label. */
static bool find_part(const struct us_written *written, char part, size_t *first, size_t *last)
{
    size_t i = 0;
    while (i < written->bar_count && written->bars[i].part != part)
        i++;
    if (i == written->bar_count) return false;
    *first = i++;
    while (i < written->bar_count && !written->bars[i].part)
        i++;
    *last = i;
    return true;
}

enum us_status us_written_order(const struct us_written *written, const char *name, uint32_t **list,
                                size_t *count, struct us_error *error)
{
    struct order order = {.bars = written->bars};
    size_t first = 0, last = 0;
    bool by_parts = false;
    for (const char *p = written->parts; *p && !order.full && !order.no_memory; p++)
        if (find_part(written, *p, &first, &last)) {
            by_parts = true;
            order_stretch(&order, first, last);
        }
    if (!by_parts) order_stretch(&order, 0, written->bar_count);
    *list = order.list;
    *count = order.count;
    if (!order.full && !order.no_memory) return US_STATUS_OK;
    free(order.list);
    *list = NULL;
    if (order.no_memory)
        return us_error_set(error, US_STATUS_NO_MEMORY, "%s: no memory left for the tune", name);
    return us_error_set(error, US_STATUS_BAD_INPUT,
                        "%s: with its repeats the tune is longer than %d bars; take out repeats", name,
                        US_PLAYED_BARS_MAX);
}
