/* The beats of a tune, counted from its pickup. */
#include "harmony_internal.h"

#include <math.h>

static const double NEAR = 1e-3;

void us_grid_make(struct us_grid *grid, const struct us_harmony_request *request)
{
    const struct us_tune *tune = request->tune;
    grid->beat = us_metre_beat_quarters(request->metre);
    grid->bar = us_metre_bar_quarters(request->metre);
    grid->pickup = request->pickup > 0 ? request->pickup : 0;
    grid->end = 0;
    for (size_t i = 0; i < tune->note_count; i++)
        if (tune->notes[i].at + tune->notes[i].len > grid->end)
            grid->end = tune->notes[i].at + tune->notes[i].len;
    grid->first = fmod(grid->pickup, grid->beat);
    if (grid->first < NEAR || grid->beat - grid->first < NEAR) grid->first = 0;
    double whole = ceil((grid->end - grid->first) / grid->beat - NEAR);
    grid->count = (whole > 0 ? (size_t)whole : 0) + (grid->first > 0);
    if (grid->end <= 0) grid->count = 0;
}

double us_grid_at(const struct us_grid *grid, size_t beat)
{
    if (beat == 0) return 0;
    if (beat >= grid->count) return grid->end;
    return grid->first + grid->beat * (double)(beat - (grid->first > 0));
}

void us_grid_position(const struct us_grid *grid, const struct us_harmony_request *request, size_t beat,
                      struct us_position *out)
{
    double from_bar = us_grid_at(grid, beat) - grid->pickup;
    double bar = floor(from_bar / grid->bar + NEAR);
    double inside = from_bar - bar * grid->bar;
    if (inside < NEAR) inside = 0;
    bool cut = beat == 0 && grid->first > 0;
    *out = (struct us_position){request->metre, (int32_t)bar, inside, inside < NEAR, !cut};
}

struct us_key us_harmony_key_at(const struct us_harmony_request *request, double at)
{
    struct us_key key = request->key;
    for (size_t i = 0; i < request->key_count && request->keys[i].at <= at + 1e-6; i++)
        key = request->keys[i].key;
    return key;
}

bool us_harmony_may_change(enum us_change change, const struct us_position *position)
{
    if (position->metre.top == 0 || change == US_CHANGE_BEAT || change == US_CHANGE_AUTO) return true;
    double every = change == US_CHANGE_BAR ? us_metre_bar_quarters(position->metre)
                                           : us_metre_half_quarters(position->metre);
    double off = fmod(position->bar_quarters, every);
    return off < NEAR || every - off < NEAR;
}

size_t us_harmony_beats(const struct us_harmony_request *request)
{
    struct us_grid grid;
    us_grid_make(&grid, request);
    return grid.count;
}
