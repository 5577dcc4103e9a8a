#include "harmony_phrase.h"

#include <math.h>

#include "harmony_frame.h"

/* Beats before it that must be alike before a beat counts as come back; and how far back we look. */
enum { BEFORE = 4, LOOK_BACK = 2048 };

static uint32_t mix(uint32_t hash, uint32_t value)
{
    return (hash ^ value) * 16777619u;
}

static uint32_t which(const float *frame, enum us_frame_place first)
{
    int step = us_frame_step(frame, first);
    return step < 0 ? US_PITCH_CLASSES : (uint32_t)step;
}

uint32_t us_beat_code(const float *frame)
{
    uint32_t hash = 2166136261u;
    hash = mix(hash, which(frame, US_FRAME_START));
    hash = mix(hash, which(frame, US_FRAME_MID));
    hash = mix(hash, which(frame, US_FRAME_LATE));
    return mix(hash, frame[US_FRAME_ONSET] > 0);
}

/* What led there is alike, and so is the rest of the bar: a second ending only asks for other chords in bars
   of its own. */
static bool alike(const uint32_t *codes, const struct us_beat_view *views, size_t count, size_t a, size_t b)
{
    for (size_t d = 0; d <= BEFORE && d <= a; d++)
        if (codes[a - d] != codes[b - d]) return false;
    for (size_t d = 1; b + d < count && views[b + d].position.bar == views[b].position.bar; d++)
        if (codes[a + d] != codes[b + d]) return false;
    return true;
}

static int32_t first_time(const uint32_t *codes, const struct us_beat_view *views, size_t count, size_t t)
{
    for (size_t k = t > LOOK_BACK ? t - LOOK_BACK : 0; k < t; k++)
        if (codes[k] == codes[t] &&
            fabs(views[k].position.bar_quarters - views[t].position.bar_quarters) < 1e-3 &&
            us_key_equal(views[k].key, views[t].key) && alike(codes, views, count, k, t))
            return views[k].same_as >= 0 ? views[k].same_as : (int32_t)k;
    return -1;
}

/* A note lasts until the next one. */
static double ends_at(const struct us_tune *tune, size_t n)
{
    const struct us_note *note = &tune->notes[n];
    return n + 1 < tune->note_count ? note[1].at : note->at + note->len;
}

/* How often the note's length is that of the eight around it. */
static double stands_out(const struct us_tune *tune, size_t n)
{
    double sum = 0, around = 0;
    for (size_t k = n > 4 ? n - 4 : 0; k <= n + 4 && k + 1 < tune->note_count; k++) {
        if (k == n) continue;
        sum += tune->notes[k + 1].at - tune->notes[k].at;
        around++;
    }
    return around > 0 ? (tune->notes[n + 1].at - tune->notes[n].at) * around / sum : 1;
}

/* Whether `until` closes a group of so many bars, up to a pickup before it. */
static bool ends_group(const struct us_grid *grid, double until, int of)
{
    double bars = (until - grid->pickup) / grid->bar, past = bars - of * floor(bars / of + 0.5);
    return fabs(past) * grid->bar <= grid->pickup + grid->beat + 1e-3 && past < 1e-3;
}

/* A note may close a phrase where it stands out in length, or a rest follows, and more easily at the end of
   four bars.  0: it does not. */
static double closes(const struct us_tune *tune, size_t n, const struct us_grid *grid)
{
    const struct us_note *note = &tune->notes[n];
    if (n + 1 == tune->note_count) return INFINITY;
    double until = tune->notes[n + 1].at, rest = until - (note->at + note->len);
    if (until - note->at < grid->beat - 1e-3) return 0;
    double out = stands_out(tune, n);
    bool rests = rest >= grid->beat / 2 - 1e-3, four = ends_group(grid, until, 4);
    if (!rests && out < (four ? 1.6 : 2.4)) return 0;
    return out * (rests ? 2 : 1) * (four ? 1.5 : ends_group(grid, until, 2) ? 1.2 : 1);
}

/* A phrase has two bars or more (common practice, no source): of closes that are nearer the clearest counts,
   the first of equals.  `last` is where the phrase begins. */
static bool is_clearest(const struct us_tune *tune, size_t n, const struct us_grid *grid, double last)
{
    double near = 2 * grid->bar - grid->beat - 1e-3, mine = closes(tune, n, grid);
    double until = ends_at(tune, n);
    if (!(mine > 0) || (until - last < near && n + 1 < tune->note_count)) return false;
    for (size_t k = n + 1; k < tune->note_count && ends_at(tune, k) - until < near; k++)
        if (closes(tune, k, grid) > mine) return false;
    return true;
}

void us_phrases_find(const struct us_tune *tune, const struct us_grid *grid, const uint32_t *codes,
                     struct us_beat_view *views)
{
    for (size_t t = 0; t < grid->count; t++) {
        views[t].same_as = first_time(codes, views, grid->count, t);
        views[t].phrase_end = false;
    }
    double last = tune->note_count ? tune->notes[0].at : 0;
    for (size_t n = 0; n < tune->note_count; n++) {
        if (!is_clearest(tune, n, grid, last)) continue;
        last = ends_at(tune, n);
        double from = tune->notes[n].at - grid->first;
        size_t beat = from < -1e-6 ? 0 : (size_t)(from / grid->beat + 1e-6) + (grid->first > 0);
        if (beat < grid->count) views[beat].phrase_end = true;
    }
}
