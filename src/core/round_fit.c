/* Whether a tune goes with itself some bars later. */
#include "undersong/round.h"

#include <math.h>

/* A round fits where US_ROUND_FITS of the weighted time is consonant, and it is no mere echo in unison.  That
   lies between what two different tunes in one key reach by chance (of half of a corpus 99 in 100 stay below
   0.77) and what is written as a round (99 in 100 of made-up ones are above 0.82); on the other half 8 in
   1000 reach it by chance: `evaluate_voices`. */
static const double UNISON_AT_MOST = 0.7, NEAR_BEST = 0.12;

/* Where voices meet apart from the unison, 0 dissonant to 1, by the semitones between them. */
static const double CONSONANCE[12] = {0, 0, 0, 1, 1, 0.5, 0, 1, 1, 1, 0, 0};

/* Pitches of both voices at a place; -1 where one is silent. */
struct voice {
    const struct us_round_note *notes;
    size_t count, next;
    double shift;
};

static double end_at(const struct us_round_note *n)
{
    return n->at + (n->len < 0 ? 0 : n->len);
}

/* Walks on to `at`; the note sounding there, or -1. */
static int pitch_at(struct voice *v, double at)
{
    while (v->next + 1 < v->count && v->notes[v->next + 1].at + v->shift <= at + 1e-6)
        v->next++;
    const struct us_round_note *n = &v->notes[v->next];
    return n->at + v->shift <= at + 1e-6 && end_at(n) + v->shift > at + 1e-6 ? n->pitch : -1;
}

static double fit_over(const struct us_round_note *notes, size_t count, double bar_quarters, int bars,
                       double least_bars, double *unison)
{
    if (unison) *unison = 0;
    if (count < 2 || bar_quarters <= 0 || bars < 1) return 0;
    double shift = bars * bar_quarters, begin = notes[0].at + shift, end = end_at(&notes[count - 1]);
    if (end - begin < (fmax(least_bars, bars) - 0.51) * bar_quarters) return 0;
    struct voice leader = {notes, count, 0, 0}, answer = {notes, count, 0, shift};
    /* An eighth of a bar or less: no metre's beat falls between two looks. */
    double step = bar_quarters / 24, good = 0, same = 0, all = 0;
    for (int i = 0; begin + i * step < end; i++) {
        double at = begin + i * step;
        int a = pitch_at(&leader, at), b = pitch_at(&answer, at);
        if (a < 0 || b < 0) continue;
        double in_bar = fmod(at + 64 * bar_quarters, bar_quarters) / bar_quarters;
        double weight = in_bar < 1.0 / 8 || (in_bar >= 0.5 - 1e-6 && in_bar < 5.0 / 8) ? 2 : 1;
        int interval = (a > b ? a - b : b - a) % 12;
        good += weight * CONSONANCE[interval];
        same += interval ? 0 : weight;
        all += weight;
    }
    if (all <= 0) return 0;
    if (unison) *unison = same / all;
    return all > same ? good / (all - same) : 0;
}

double us_round_fit(const struct us_round_note *notes, size_t count, double bar_quarters, int bars,
                    double *unison)
{
    return fit_over(notes, count, bar_quarters, bars, 2, unison);
}

static int entry(const struct us_round_note *notes, size_t count, double bar_quarters, double least_bars,
                 double *fit)
{
    double score[US_ROUND_BARS_MAX + 1] = {0}, best = 0;
    for (int bars = 1; bars <= US_ROUND_BARS_MAX; bars++) {
        double unison, f = fit_over(notes, count, bar_quarters, bars, least_bars, &unison);
        if (f >= US_ROUND_FITS && unison <= UNISON_AT_MOST) score[bars] = f;
        best = fmax(best, score[bars]);
    }
    if (fit) *fit = best;
    for (int bars = 1; bars <= US_ROUND_BARS_MAX && best > 0; bars++)
        if (score[bars] >= best - NEAR_BEST) {
            if (fit) *fit = score[bars];
            return bars;
        }
    return 0;
}

int us_round_entry(const struct us_round_note *notes, size_t count, double bar_quarters, double *fit)
{
    return entry(notes, count, bar_quarters, 2, fit);
}

/* The ring is laid straight only where it has not gone round; else its newer part is judged. */
static const struct us_round_note *straight(const struct us_round *r, size_t *count)
{
    bool wrapped = r->first + r->count > US_ROUND_NOTES_MAX;
    *count = wrapped ? r->first + r->count - US_ROUND_NOTES_MAX : r->count;
    return r->note + (wrapped ? 0 : r->first);
}

int us_round_heard_entry(const struct us_round *r, double bar_quarters, double *fit)
{
    size_t count;
    const struct us_round_note *notes = straight(r, &count);
    return entry(notes, count, bar_quarters, 4, fit);
}

double us_round_heard_fit(const struct us_round *r, double bar_quarters, int bars)
{
    size_t count;
    const struct us_round_note *notes = straight(r, &count);
    return us_round_fit(notes, count, bar_quarters, bars, NULL);
}
