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

size_t us_tune_written_bars(const struct us_tune *tune)
{
    size_t count = 0;
    for (size_t i = 0; i < tune->bar_count; i++)
        if (tune->bars[i].written >= count) count = (size_t)tune->bars[i].written + 1;
    return count;
}
