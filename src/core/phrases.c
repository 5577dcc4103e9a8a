#include "undersong/phrases.h"

#include <math.h>
#include <string.h>

static const double NEAR = 1e-6;
enum { EVEN_BARS = 4 }; /* common practice, no source */

size_t us_phrases_most(const struct us_tune *tune, const struct us_harmony_view *view)
{
    return tune->line_count + view->beat_count + tune->bar_count + 2;
}

static bool note_starts(const struct us_tune *tune, double at)
{
    size_t i = us_tune_note_after(tune, at);
    return i < tune->note_count && fabs(tune->notes[i].at - at) < NEAR;
}

/* A phrase that is written from a bar line on has left its pickup at the end of the bar before. */
static double with_pickup(const struct us_tune *tune, double at, double bar, double pickup)
{
    double bars = (at - pickup) / bar;
    if (at < pickup + NEAR) return 0;
    if (pickup < NEAR || fabs(bars - round(bars)) * bar > NEAR) return at;
    return note_starts(tune, at - pickup) ? at - pickup : at;
}

/* Puts it in its place, once. */
static size_t insert(double *starts, size_t count, double at)
{
    size_t i = count;
    while (i > 0 && starts[i - 1] > at - NEAR)
        i--;
    if (i < count && starts[i] < at + NEAR) return count;
    memmove(starts + i + 1, starts + i, (count - i) * sizeof *starts);
    starts[i] = at;
    return count + 1;
}

/* By ear, or even ones. */
static size_t heard_starts(const struct us_harmony_view *view, double bar, double *out)
{
    double end = 0;
    size_t count = insert(out, 0, 0);
    for (size_t i = 0; i < view->beat_count; i++) {
        end = view->beats[i].at + view->beats[i].len;
        if (view->beats[i].phrase_end && i + 1 < view->beat_count) count = insert(out, count, end);
    }
    if (count > 1) return count;
    for (double at = EVEN_BARS * bar; at < end - NEAR; at += EVEN_BARS * bar)
        count = insert(out, count, at);
    return count;
}

/* Repeats, and double bars. */
static bool breaks(const struct us_bar *bar)
{
    return bar->repeat_from || bar[-1].closes || bar->written <= bar[-1].written;
}

size_t us_phrase_starts(const struct us_tune *tune, const struct us_harmony_view *view, struct us_metre metre,
                        double pickup, double *out)
{
    double bar = us_metre_bar_quarters(metre);
    bool lines = tune->line_count > 1;
    size_t count = lines ? insert(out, 0, 0) : heard_starts(view, bar, out);
    for (size_t i = 0; i < tune->line_count && lines; i++)
        count = insert(out, count, with_pickup(tune, tune->lines[i], bar, pickup));
    for (size_t i = 1; i < tune->bar_count; i++)
        if (breaks(&tune->bars[i]))
            count = insert(out, count, with_pickup(tune, tune->bars[i].at, bar, pickup));
    return count;
}

/* The bar of the page that sounds at `at`; -1 where the tune has none. */
static int64_t written_bar(const struct us_tune *tune, double at)
{
    for (size_t i = 0; i < tune->bar_count; i++)
        if (at < tune->bars[i].at + tune->bars[i].len - NEAR) return tune->bars[i].written;
    return -1;
}

size_t us_phrases_of_page(const struct us_tune *tune, const struct us_harmony_view *view,
                          struct us_metre metre, double pickup, struct us_phrase *out)
{
    /* The starts go into the same memory; from the last one on, none is written over before it is read. */
    double *starts = (double *)out;
    size_t count = us_phrase_starts(tune, view, metre, pickup, starts), kept = 0;
    const struct us_note *last = tune->note_count ? &tune->notes[tune->note_count - 1] : NULL;
    double end = last ? last->at + last->len : 0;
    for (size_t i = count; i-- > 0;) {
        double at = starts[i];
        out[i] = (struct us_phrase){at, end};
        end = at;
    }
    int64_t seen = -1;
    for (size_t i = 0; i < count; i++) {
        /* Where it has begun in earnest: its pickup may be in the bar before. */
        int64_t bar = written_bar(tune, out[i].at + pickup);
        if (out[i].end - out[i].at < NEAR || (bar >= 0 && bar <= seen)) continue;
        if (bar > seen) seen = bar;
        out[kept++] = out[i];
    }
    return kept;
}
