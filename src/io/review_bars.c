#include <math.h>
#include <stdlib.h>

#include "review_parts.h"

static const double NEAR = 1e-6;

/* The bars of the page in their order, each once; `page[w]` is where the written bar w stands, plus one. */
static void written_bars(struct us_review *review, const struct us_tune *tune, uint32_t *page)
{
    double at = 0;
    int32_t number = 0;
    for (size_t i = 0; i < tune->bar_count; i++) {
        const struct us_bar *bar = &tune->bars[i];
        if (page[bar->written]) continue;
        int32_t printed = us_tune_bar_counts(tune, i) ? ++number : i == 0 ? 0 : -1;
        review->bars[review->bar_count] =
            (struct us_review_bar){.number = printed, .at = at, .len = bar->len};
        page[bar->written] = (uint32_t)++review->bar_count;
        at += bar->len;
    }
}

static bool place_by_bars(struct review_work *work)
{
    const struct us_tune *tune = work->tune;
    uint32_t *page = calloc(us_tune_written_bars(tune) + 1, sizeof *page);
    work->review->bars = calloc(tune->bar_count + 1, sizeof *work->review->bars);
    if (page && work->review->bars) {
        written_bars(work->review, tune, page);
        for (size_t n = 0, b = 0; n < tune->note_count; n++) {
            while (b + 1 < tune->bar_count && tune->notes[n].at > tune->bars[b + 1].at - NEAR)
                b++;
            double beat = us_metre_beat_quarters(tune->bars[b].metre);
            work->places[n] = (struct review_place){page[tune->bars[b].written] - 1,
                                                    1 + fmax(0, tune->notes[n].at - tune->bars[b].at) / beat};
        }
    }
    bool good = page && work->review->bars;
    free(page);
    return good;
}

static bool place_by_metre(struct review_work *work)
{
    const struct us_tune *tune = work->tune;
    double bar = us_metre_bar_quarters(work->review->metre),
           beat = us_metre_beat_quarters(work->review->metre);
    const struct us_note *last = &tune->notes[tune->note_count - 1];
    bool pickup = tune->pickup > NEAR && tune->pickup < bar - NEAR;
    double first = pickup ? tune->pickup : 0;
    size_t count = (size_t)(fmax(0, last->at - first) / bar + NEAR) + 1 + pickup;
    work->review->bars = calloc(count + 1, sizeof *work->review->bars);
    if (!work->review->bars) return false;
    work->review->bar_count = count;
    for (size_t i = 0; i < count; i++) {
        bool short_one = pickup && i == 0;
        work->review->bars[i] =
            (struct us_review_bar){.number = (int32_t)i + !pickup,
                                   .at = short_one ? 0 : first + bar * (double)(i - pickup),
                                   .len = short_one ? first : bar};
    }
    for (size_t n = 0; n < tune->note_count; n++) {
        double at = tune->notes[n].at;
        size_t i = at < first - NEAR ? 0 : (size_t)((at - first) / bar + NEAR) + pickup;
        if (i >= count) i = count - 1;
        work->places[n] =
            (struct review_place){(uint32_t)i, 1 + fmax(0, at - work->review->bars[i].at) / beat};
    }
    return true;
}

bool review_lay_bars(struct review_work *work)
{
    work->places = calloc(work->tune->note_count + 1, sizeof *work->places);
    if (!work->places) return false;
    return work->tune->bar_count ? place_by_bars(work) : place_by_metre(work);
}
