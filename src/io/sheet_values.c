#include "sheet_values.h"

#include <math.h>

enum { QUARTER = US_SHEET_QUARTER, SMALLEST = QUARTER / 32 };

static const struct {
    int32_t ticks;
    const char *name;
} VALUES[] = {
    {12 * QUARTER, "\\breve."}, {8 * QUARTER, "\\breve"}, {6 * QUARTER, "1."},       {4 * QUARTER, "1"},
    {3 * QUARTER, "2."},        {2 * QUARTER, "2"},       {3 * QUARTER / 2, "4."},   {QUARTER, "4"},
    {3 * QUARTER / 4, "8."},    {QUARTER / 2, "8"},       {3 * QUARTER / 8, "16."},  {QUARTER / 4, "16"},
    {3 * QUARTER / 16, "32."},  {QUARTER / 8, "32"},      {3 * QUARTER / 32, "64."}, {QUARTER / 16, "64"},
    {QUARTER / 32, "128"},
};
enum { VALUE_COUNT = sizeof VALUES / sizeof *VALUES };

const char *value_name(int32_t ticks)
{
    for (int i = 0; i < VALUE_COUNT; i++)
        if (VALUES[i].ticks == ticks) return VALUES[i].name;
    return NULL;
}

/* The largest single value up to `most`, ending on a beat if `from` lies on one and it can. */
static int32_t largest(int32_t most, int32_t from, int32_t beat, bool on_beats)
{
    for (int i = 0; i < VALUE_COUNT; i++)
        if (VALUES[i].ticks <= most && (!on_beats || (from + VALUES[i].ticks) % beat == 0))
            return VALUES[i].ticks;
    return 0;
}

/* Where the next piece of a length has to end at the latest, so that the eye finds the beats. */
static int32_t next_limit(struct us_metre metre, int32_t from, int32_t len, int32_t beat, bool rest)
{
    int32_t off_beat = from % beat;
    if (off_beat) return len < beat - off_beat ? len : beat - off_beat;
    int32_t half = (int32_t)lround(us_metre_half_quarters(metre) * QUARTER);
    if (rest && half - from % half < len) return half - from % half;
    return len;
}

size_t value_cut(struct us_metre metre, int32_t from, int32_t len, bool rest, int32_t out[VALUES_MAX])
{
    int32_t beat = (int32_t)lround(us_metre_beat_quarters(metre) * QUARTER);
    size_t count = 0;
    if (!rest && value_name(len)) {
        out[0] = len;
        return 1;
    }
    while (len > 0 && count < VALUES_MAX - 1) {
        int32_t limit = next_limit(metre, from, len, beat, rest);
        int32_t piece = from % beat == 0 && limit > beat ? largest(limit, from, beat, true) : 0;
        if (!piece) piece = largest(limit, from, beat, false);
        if (!piece || (len - piece > 0 && len - piece < SMALLEST)) piece = len;
        out[count++] = piece;
        from += piece;
        len -= piece;
    }
    if (len > 0) out[count++] = len;
    return count;
}

static bool is_edge(const int32_t *edges, size_t count, int32_t at)
{
    for (size_t i = 0; i < count; i++)
        if (edges[i] == at) return true;
    return false;
}

/* Whether all edges inside the group lie on its triplet grid. */
static bool fits_triplet(const int32_t *edges, size_t count, int32_t at, int32_t len)
{
    if (!is_edge(edges, count, at) || !is_edge(edges, count, at + len)) return false;
    for (size_t i = 0; i < count; i++)
        if (edges[i] > at && edges[i] < at + len && (edges[i] - at) * 24 % len) return false;
    return true;
}

bool value_triplet(const int32_t *edges, size_t count, size_t first, int32_t *at, int32_t *len)
{
    for (size_t i = first; i < count; i++) {
        if (edges[i] % SMALLEST == 0) continue;
        for (*len = QUARTER / 2; *len <= 4 * QUARTER; *len *= 2) {
            *at = edges[i] / *len * *len;
            if (*at >= edges[first] && fits_triplet(edges, count, *at, *len)) return true;
        }
    }
    return false;
}
