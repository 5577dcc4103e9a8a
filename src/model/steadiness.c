#include "steadiness.h"

#include <math.h>

enum { BARS_BEFORE = 4, BARS_MAX = 4096 };
static const double SAME_LENGTH_QUARTERS = 0.3, AT_LINE_S = 0.07;

void steadiness_hear(struct felt_places *places, const struct us_felt *felt)
{
    if (felt->ended || places->count == PLACES_MAX) return;
    places->list[places->count++] =
        (struct felt_place){(double)felt->at_ns * 1e-9,     felt->bar_quarters, felt->bar, felt->metre,
                            felt->on_bar && !felt->already, felt->fresh};
}

/* The place in the score that was reached at a time. */
static double place_at(const struct performance *p, double s)
{
    size_t i = 0;
    while (i + 2 < p->place_count && p->places[i + 1].s <= s)
        i++;
    const struct played_place *a = &p->places[i], *b = a + 1;
    if (b->s - a->s < 1e-9) return a->quarters;
    double share = (s - a->s) / (b->s - a->s);
    return a->quarters + fmin(1, fmax(0, share)) * (b->quarters - a->quarters);
}

static double quarters_of(const struct felt_place *f)
{
    return f->bar * us_metre_bar_quarters(f->metre) + f->bar_quarters;
}

static void compare(struct steadiness *sum, const struct felt_place *before, const struct felt_place *now)
{
    if (now->fresh) return;
    sum->other_metre += !us_metre_equal(now->metre, before->metre);
    int32_t bars = now->bar - before->bar;
    double bar = us_metre_bar_quarters(now->metre), moved = quarters_of(now) - quarters_of(before);
    /* No quarter takes less than 0.3 s; a hesitation takes any time and moves nothing. */
    sum->jumps += bars < 0 || (bars > 1 && moved > bar + (now->s - before->s) / 0.3);
}

/* The length that most of them have, within the tolerance. */
static double usual_length(const double *length, size_t count)
{
    size_t most = 0;
    double usual = 0;
    for (size_t i = 0; i < count; i++) {
        size_t alike = 0;
        for (size_t j = 0; j < count; j++)
            alike += fabs(length[j] - length[i]) < SAME_LENGTH_QUARTERS;
        if (alike > most) most = alike, usual = length[i];
    }
    return usual;
}

static void compare_lengths(struct steadiness *sum, const double *lines, size_t count)
{
    double length[BARS_MAX];
    for (size_t i = 0; i + 1 < count; i++)
        length[i] = lines[i + 1] - lines[i];
    if (count < 2) return;
    double usual = usual_length(length, count - 1);
    for (size_t i = 0; i + 1 < count; i++)
        sum->uneven += fabs(length[i] - usual) > SAME_LENGTH_QUARTERS;
    sum->felt += (double)count - 1;
}

void steadiness_add(struct steadiness *sum, const struct us_tune *tune, const struct performance *p,
                    const struct felt_places *felt)
{
    double bar = us_metre_bar_quarters(tune->metre), from = tune->pickup + BARS_BEFORE * bar;
    double from_s = performance_clock(p, from) - AT_LINE_S, lines[BARS_MAX];
    size_t line_count = 0;
    for (size_t i = 1; i < felt->count; i++) {
        const struct felt_place *f = &felt->list[i];
        if (f->s < from_s || f->s > performance_clock(p, p->end_quarters)) continue;
        compare(sum, f - 1, f);
        if (!f->line) continue;
        double at = place_at(p, f->s);
        if (line_count < BARS_MAX) lines[line_count++] = at;
        double bars = (at - tune->pickup) / bar,
               off_s = f->s - performance_clock(p, tune->pickup + round(bars) * bar);
        if (fabs(off_s) > AT_LINE_S) continue;
        sum->lines++;
        sum->number += f->bar == (int32_t)lround(bars);
    }
    compare_lengths(sum, lines, line_count);
    sum->bars += fmax(0, floor((p->end_quarters - from) / bar));
}
