#include "sheet_stretch.h"

#include <math.h>

#include "sheet_values.h"

int32_t sheet_full_bar(struct us_metre metre)
{
    return (int32_t)lround(us_metre_bar_quarters(metre) * US_SHEET_QUARTER);
}

static size_t cut(struct sheet_staff *staff, const struct us_sheet_bar *bar, struct sheet_stretch *out)
{
    size_t n = 0;
    int32_t at = bar->at, end = bar->at + bar->len;
    while (staff->next > 0 && staff->sounds[staff->next - 1].at + staff->sounds[staff->next - 1].len > at)
        staff->next--;
    for (; staff->next < staff->count && n + 2 < STRETCHES_MAX; staff->next++) {
        const struct us_sheet_sound *s = &staff->sounds[staff->next];
        int32_t from = s->at < at ? at : s->at, until = s->at + s->len < end ? s->at + s->len : end;
        if (s->at >= end) break;
        if (until <= from) continue;
        if (from > at)
            out[n++] =
                (struct sheet_stretch){.from = at - bar->at, .len = from - at, .begins = true, .ends = true};
        out[n++] = (struct sheet_stretch){.from = from - bar->at,
                                          .len = until - from,
                                          .sound = s,
                                          .begins = from == s->at,
                                          .ends = until == s->at + s->len};
        at = until;
    }
    if (at < end)
        out[n++] =
            (struct sheet_stretch){.from = at - bar->at, .len = end - at, .begins = true, .ends = true};
    return n;
}

size_t sheet_stretches(struct sheet_staff *staff, const struct us_sheet_bar *bar,
                       struct sheet_stretch out[STRETCHES_MAX])
{
    int32_t edges[STRETCHES_MAX + 1], at, len;
    size_t count = cut(staff, bar, out);
    for (size_t i = 0; i < count; i++)
        edges[i] = out[i].from;
    edges[count] = bar->len;
    for (size_t i = 0; i < count && value_triplet(edges, count + 1, i, &at, &len);) {
        while (edges[i] < at)
            i++;
        out[i].opens = true;
        for (; i < count && edges[i] < at + len; i++)
            out[i].triplet = true;
        out[i - 1].closes = true;
    }
    return count;
}
