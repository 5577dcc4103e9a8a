#include "undersong/tune.h"

size_t us_tune_note_after(const struct us_tune *tune, double at)
{
    size_t low = 0, high = tune->note_count;
    while (low < high) {
        size_t middle = low + (high - low) / 2;
        if (tune->notes[middle].at + tune->notes[middle].len > at)
            high = middle;
        else
            low = middle + 1;
    }
    return low;
}

int us_tune_pitch_at(const struct us_tune *tune, double at)
{
    static const double NEAR = 1e-3;
    size_t i = us_tune_note_after(tune, at + NEAR);
    return i < tune->note_count && tune->notes[i].at < at + NEAR ? tune->notes[i].pitch : -1;
}

struct us_chord us_chord_at(const struct us_chord_span *spans, size_t count, double at)
{
    static const double NEAR = 1e-6;
    for (size_t i = 0; i < count; i++)
        if (spans[i].at <= at + NEAR && at + NEAR < spans[i].at + spans[i].len) return spans[i].chord;
    return (struct us_chord){US_NO_CHORD, US_CHORD_MAJ};
}

size_t us_tune_written_bars(const struct us_tune *tune)
{
    size_t count = 0;
    for (size_t i = 0; i < tune->bar_count; i++)
        if (tune->bars[i].written >= count) count = (size_t)tune->bars[i].written + 1;
    return count;
}

static bool is_short(const struct us_bar *bar)
{
    return bar->len < us_metre_bar_quarters(bar->metre) - 1e-6;
}

bool us_tune_bar_counts(const struct us_tune *tune, size_t bar)
{
    const struct us_bar *bars = tune->bars;
    bool divided = bar == 0 || bars[bar - 1].repeat_times || bars[bar - 1].closes;
    return !is_short(&bars[bar]) || !divided;
}

int32_t us_tune_bar_number(const struct us_tune *tune, size_t bar)
{
    int32_t number = 0;
    int64_t highest = -1; /* of the bars on the page that were seen */
    for (size_t i = 0; i < tune->bar_count && highest < (int64_t)tune->bars[bar].written; i++) {
        if ((int64_t)tune->bars[i].written <= highest) continue;
        highest = tune->bars[i].written;
        number += us_tune_bar_counts(tune, i);
    }
    return number;
}
