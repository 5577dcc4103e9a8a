#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "review_parts.h"
#include "written.h"

enum { CELLS_MOST = 1 << 24 };

/* Sums of a bar or a take: how long its notes were, against the tempo around them. */
struct sums {
    double quarters, ns, square;
    uint32_t count;
};

static void add_length(struct sums *sums, double quarters, double ns, double quarter_ns)
{
    double off = log(ns / (quarters * quarter_ns));
    sums->quarters += quarters;
    sums->ns += ns;
    sums->square += off * off;
    sums->count++;
}

static double tempo_of(const struct sums *sums)
{
    return sums->ns > 0 ? 60e9 * sums->quarters / sums->ns : 0;
}

static double uneven_of(const struct sums *sums)
{
    return sums->count > 1 ? sqrt(sums->square / sums->count) : 0;
}

struct moment {
    const struct us_review *review;
    uint32_t take;
    int64_t at_ns;
};

static bool mark_before(const void *sought, size_t i)
{
    const struct moment *m = sought;
    const struct us_review_mark *mark = &m->review->marks[i];
    return mark->take < m->take || (mark->take == m->take && mark->at_ns < m->at_ns);
}

/* The first mark of the take, or of a later one, at that time or later: marks stand in this order. */
static size_t mark_from(const struct us_review *review, uint32_t take, int64_t at_ns)
{
    return us_first_not(review->mark_count, mark_before, &(struct moment){review, take, at_ns});
}

static bool waited_at(const struct us_review *review, uint32_t take, int64_t at_ns)
{
    for (size_t m = mark_from(review, take, at_ns); m < review->mark_count; m++) {
        const struct us_review_mark *mark = &review->marks[m];
        if (mark->take != take || mark->at_ns != at_ns) return false;
        if (mark->kind == US_REVIEW_WAITED) return true;
    }
    return false;
}

/* The length of the note before `i`, where it can be told: two notes of the tune on end, without a pause. */
static bool length_before(const struct review_work *work, uint32_t take, size_t i, double *quarters,
                          double *ns)
{
    const struct us_aligned *a = &work->aligned[i];
    const struct us_played *played = work->sessions[work->session].played;
    if (i == 0 || a->begins || a->missed || a->kind == US_ALIGN_EXTRA || a[-1].kind == US_ALIGN_EXTRA)
        return false;
    if (a->quarter_ns <= 0 || waited_at(work->review, take, played[i].at_ns)) return false;
    *quarters = work->tune->notes[a->note].at - work->tune->notes[a[-1].note].at;
    *ns = (double)(played[i].at_ns - played[i - 1].at_ns);
    return *quarters > 0 && *ns > 0;
}

static bool measure_take(struct review_work *work, uint32_t index, struct us_review_cell *cells)
{
    struct us_review *review = work->review;
    struct us_take *take = &review->takes[index];
    const struct us_session *session = &work->sessions[work->session];
    struct sums *bars = calloc(review->bar_count + 1, sizeof *bars), all = {0};
    if (!bars) return false;
    size_t from = us_first_from(session->played, session->count, sizeof *session->played, take->from_ns);
    for (size_t i = from; i < session->count; i++) {
        double quarters, ns;
        if (session->played[i].at_ns >= take->until_ns) break;
        if (work->aligned[i].kind == US_ALIGN_EXTRA) continue;
        cells[work->places[work->aligned[i].note].bar].notes++;
        if (session->played[i].at_ns == take->from_ns || !length_before(work, index, i, &quarters, &ns))
            continue;
        add_length(&bars[work->places[work->aligned[i - 1].note].bar], quarters, ns,
                   work->aligned[i].quarter_ns);
        add_length(&all, quarters, ns, work->aligned[i].quarter_ns);
    }
    for (size_t b = 0; b < review->bar_count; b++) {
        cells[b].tempo = (float)tempo_of(&bars[b]);
        cells[b].uneven = (float)uneven_of(&bars[b]);
    }
    take->tempo = tempo_of(&all);
    take->uneven = uneven_of(&all);
    free(bars);
    return true;
}

static void count_marks(struct us_review *review, uint32_t take, struct us_review_cell *cells)
{
    for (size_t m = mark_from(review, take, INT64_MIN); m < review->mark_count; m++) {
        const struct us_review_mark *mark = &review->marks[m];
        if (mark->take != take) return;
        struct us_review_cell *cell = &cells[mark->bar];
        cell->wrong += mark->kind == US_REVIEW_WRONG;
        cell->added += mark->kind == US_REVIEW_ADDED;
        cell->missed += mark->kind == US_REVIEW_MISSED;
        cell->notes += mark->kind == US_REVIEW_MISSED;
        cell->waits += mark->kind == US_REVIEW_WAITED;
        cell->waited_s += (float)mark->seconds;
    }
}

bool review_measure(struct review_work *work)
{
    struct us_review *review = work->review;
    size_t width = review->bar_count, first = 0;
    while (first < review->take_count && review->takes[first].session != work->session)
        first++;
    if (first == review->take_count) return true;
    if (width && review->take_count > CELLS_MOST / width) return false; /* no week of a human */
    struct us_review_cell *grown = realloc(review->cells, (review->take_count * width + 1) * sizeof *grown);
    if (!grown) return false;
    review->cells = grown;
    memset(grown + first * width, 0, (review->take_count - first) * width * sizeof *grown);
    bool good = true;
    for (size_t t = first; t < review->take_count && good; t++) {
        good = measure_take(work, (uint32_t)t, grown + t * width);
        count_marks(review, (uint32_t)t, grown + t * width);
    }
    return good;
}
