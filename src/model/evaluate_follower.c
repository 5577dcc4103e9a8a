/* How well the follower feels the beat of simulated players on real tunes.

   usage: evaluate_follower FOLDER [FOLD [LIMIT]]
   Only tunes of FOLD (0 by default, which the tables were learned without; -1 all) are played, at most LIMIT
   (1000) of each style, with the metre given and without.  Printed:

   - beat F: F-measure of beats within 70 ms, the first 5 s left out (common for beat trackers)
   - bar F: the same of bar lines
   - together: bar lines from the third on with a note of the melody with a bar line felt within 50 ms of it
   - after a grace note: bar lines of these with a bar line felt within 20 ms of the written note
   - stray: bar lines felt further than 90 ms from any half beat
   - spread: standard deviation of bar line minus note, in ms
   - metre: the metre at the end is the written one
   - and from the fifth bar on, in a hundred bars of the tune: how often the metre changes (other metre) and
   the bar number goes back or too far on (jumps); bars longer or shorter than most of the tune's (uneven);
   right numbers of bar lines that are felt where they are (number) */
#include "corpus.h"
#include "follow_player.h"
#include "program_words.h"
#include "steadiness.h"
#include "stumbles.h"

#include "undersong/follower_state.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { FELT_MAX = 16384 };

struct felt_times {
    double beat_s[FELT_MAX], bar_s[FELT_MAX], strike_s[FELT_MAX];
    size_t beats, bars, strikes;
    struct us_metre metre;
    struct felt_places places;
};

struct sums {
    double beat_hits, beats, beats_felt, bar_hits, bar_lines, bars_felt;
    double judged, together, graced, with_main, gaps, gap, gap2, strikes, stray, tunes, metre, first_line,
        second_line, early;
    struct steadiness steady;
};

static void note_felt(void *context, const struct us_felt *f)
{
    struct felt_times *t = context;
    t->metre = f->metre;
    steadiness_hear(&t->places, f);
    if (f->already || t->beats == FELT_MAX || t->strikes == FELT_MAX) return;
    if (f->on_beat) t->beat_s[t->beats++] = (double)f->at_ns * 1e-9;
    if (f->on_bar) t->bar_s[t->bars++] = (double)f->at_ns * 1e-9;
    if (f->on_bar || f->maybe_bar) t->strike_s[t->strikes++] = (double)f->at_ns * 1e-9;
}

/* How far the nearest of the times, in order, is from `s`; signed. */
static double nearest(const double *times, size_t count, double s)
{
    double best = INFINITY;
    for (size_t i = 0; i < count && times[i] < s + fabs(best); i++)
        if (fabs(times[i] - s) < fabs(best)) best = times[i] - s;
    return best;
}

static double count_after(const double *times, size_t count, double from_s, double until_s)
{
    double n = 0;
    for (size_t i = 0; i < count; i++)
        n += times[i] >= from_s && times[i] <= until_s;
    return n;
}

static double nearest_note(const struct performance *p, double s)
{
    double best = INFINITY;
    for (size_t i = 0; i < p->note_count; i++)
        if (!p->notes[i].added && fabs(p->notes[i].on_s - s) < fabs(best - s)) best = p->notes[i].on_s;
    return best;
}

/* Whether a note that is not written was crushed in before the one at `note_s`. */
static bool is_graced(const struct performance *p, double note_s)
{
    for (size_t i = 0; i < p->note_count; i++)
        if (p->notes[i].added && p->notes[i].on_s < note_s && p->notes[i].on_s > note_s - 0.11) return true;
    return false;
}

static void judge_bar(const struct performance *p, const struct felt_times *t, double s, struct sums *sums)
{
    double note_s = nearest_note(p, s);
    if (fabs(note_s - s) >= 0.12) return;
    double gap = nearest(t->strike_s, t->strikes, note_s);
    sums->judged++;
    sums->together += fabs(gap) <= 0.05;
    if (is_graced(p, note_s)) {
        sums->graced++;
        sums->with_main += fabs(gap) <= 0.02;
    }
    if (fabs(gap) >= 0.12) return;
    sums->gaps++;
    sums->gap += gap;
    sums->gap2 += gap * gap;
}

/* The first two bar lines, and what is felt as one before the first or between them. */
static void judge_opening(const struct us_tune *tune, const struct performance *p, const struct felt_times *t,
                          struct sums *sums)
{
    double up = fmod(tune->pickup, us_metre_bar_quarters(tune->metre)), line_s[2];
    for (int i = 0; i < 2; i++)
        line_s[i] = performance_clock(p, up + i * us_metre_bar_quarters(tune->metre));
    sums->first_line += fabs(nearest(t->bar_s, t->bars, line_s[0])) < 0.07;
    sums->second_line += fabs(nearest(t->bar_s, t->bars, line_s[1])) < 0.07;
    for (size_t i = 0; i < t->bars && t->bar_s[i] < line_s[1] - 0.07; i++)
        sums->early += fabs(t->bar_s[i] - line_s[0]) > 0.07;
}

static void judge(const struct us_tune *tune, const struct performance *p, const struct felt_times *t,
                  struct sums *sums)
{
    double beat = us_metre_beat_quarters(tune->metre), bar = us_metre_bar_quarters(tune->metre),
           end = p->end_quarters, last_s = 0;
    for (size_t i = 0; i < p->note_count; i++)
        last_s = fmax(last_s, p->notes[i].off_s);
    double first = fmod(tune->pickup, beat);
    for (double q = first; q + beat <= end + 1e-6 && performance_clock(p, q + beat) <= last_s + 1e-6;
         q += beat) {
        double s = performance_clock(p, q), bars = (q - tune->pickup) / bar;
        bool line = fabs(bars - round(bars)) < 1e-3;
        if (s >= 5) {
            sums->beats++;
            sums->beat_hits += fabs(nearest(t->beat_s, t->beats, s)) < 0.07;
            sums->bar_lines += line;
            sums->bar_hits += line && fabs(nearest(t->bar_s, t->bars, s)) < 0.07;
        }
        if (line && q >= tune->pickup + 2 * bar) judge_bar(p, t, s, sums);
    }
    sums->beats_felt += count_after(t->beat_s, t->beats, 5, last_s);
    sums->bars_felt += count_after(t->bar_s, t->bars, 5, last_s);
    for (size_t i = 0; i < t->strikes; i++) {
        double off = INFINITY;
        for (double q = first; q <= end; q += beat / 2)
            off = fmin(off, fabs(performance_clock(p, q) - t->strike_s[i]));
        sums->strikes++;
        sums->stray += off > 0.09;
    }
    judge_opening(tune, p, t, sums);
    steadiness_add(&sums->steady, tune, p, &t->places);
    sums->tunes++;
    sums->metre += us_metre_equal(t->metre, tune->metre);
}

static void print_sums(const char *style, enum player player, bool given, const struct sums *s)
{
    double mean = s->gap / s->gaps;
    printf("%-5s %-13s metre %-7s tunes %3.0f  beat F %.3f  bar F %.3f  together %.3f  stray %.3f  spread "
           "%4.1f ms  lines: first %.2f second %.2f false %.2f  metre %.2f  in 100 bars: other metre %.2f, "
           "jumps %.2f  uneven %.3f  number %.3f\n",
           style, player_name(player), given ? "given" : "unknown", s->tunes,
           2 * s->beat_hits / (s->beats + s->beats_felt), 2 * s->bar_hits / (s->bar_lines + s->bars_felt),
           s->together / s->judged, s->stray / s->strikes, 1000 * sqrt(s->gap2 / s->gaps - mean * mean),
           s->first_line / s->tunes, s->second_line / s->tunes, s->early / s->tunes, s->metre / s->tunes,
           100 * s->steady.other_metre / s->steady.bars, 100 * s->steady.jumps / s->steady.bars,
           s->steady.uneven / s->steady.felt, s->steady.number / s->steady.lines);
    if (s->graced > 0)
        printf("%-5s %-13s metre %-7s bar lines after a grace note %.0f: with the main note %.3f\n", style,
               player_name(player), given ? "given" : "unknown", s->graced, s->with_main / s->graced);
}

static bool is_judged(const struct corpus_tune *t, const char *style, int fold)
{
    return t->grid_sure && strcmp(t->style, style) == 0 && (fold < 0 || t->fold == fold);
}

static void evaluate(const struct corpus *corpus, const char *style, enum player player, bool given, int fold,
                     int limit)
{
    static struct felt_times times;
    struct sums sums = {0};
    uint64_t seed = 1000003 * (uint64_t)player;
    for (size_t i = 0; i < corpus->count && sums.tunes < limit; i++) {
        const struct corpus_tune *t = &corpus->tunes[i];
        if (!is_judged(t, style, fold)) continue;
        struct performance p;
        double share = fmod((double)i * 0.618034, 1); /* tempi spread evenly over tunes */
        double tempo = player <= PLAYER_STRUGGLING ? 66 + 60 * share : 44 * pow(160 / 44.0, share);
        if (!player_perform(player, t->tune.notes, t->tune.note_count, us_metre_bar_quarters(t->tune.metre),
                            t->tune.pickup, tempo, seed + i, &p))
            words_no_memory();
        struct us_follower_settings settings = {.pickup = -1};
        if (given) settings = follower_told(&t->tune);
        times.beats = times.bars = times.strikes = times.places.count = 0;
        if (!follow_performance(&p, &settings, note_felt, &times)) words_no_memory();
        judge(&t->tune, &p, &times, &sums);
        performance_finish(&p);
    }
    if (sums.tunes > 0) print_sums(style, player, given, &sums);
}

/* Metre and pickup of the written tune. */
static void evaluate_written(const struct corpus *corpus, const char *style, int fold)
{
    int tunes = 0, metres = 0, pickups = 0;
    for (size_t i = 0; i < corpus->count; i++) {
        const struct corpus_tune *t = &corpus->tunes[i];
        if (!is_judged(t, style, fold)) continue;
        struct us_metre metre;
        double pickup;
        us_metre_of_tune(t->tune.notes, t->tune.note_count, &metre, &pickup);
        bool right = us_metre_bar_quarters(metre) == us_metre_bar_quarters(t->tune.metre) &&
                     us_metre_beats(metre) % us_metre_beats(t->tune.metre) == 0;
        tunes++;
        metres += right;
        pickups += right && fabs(pickup - t->tune.pickup) < 0.01;
    }
    if (tunes)
        printf("%-5s written tunes %d: metre %.3f, metre and pickup %.3f\n", style, tunes,
               metres / (double)tunes, pickups / (double)tunes);
}

/* One stumble in each tune, somewhere after the second bar. */
static void evaluate_stumbles(const struct corpus *corpus, const char *style, bool given, int fold, int limit)
{
    printf("%-5s a stumble     metre %-7s bar line right again:", style, given ? "given" : "unknown");
    for (int stumble = 0; stumble < STUMBLES; stumble++) {
        struct recovery sum = {0};
        for (size_t i = 0; i < corpus->count && sum.tried < 3 * limit; i++) {
            const struct corpus_tune *t = &corpus->tunes[i];
            if (!is_judged(t, style, fold)) continue;
            size_t from = 0, count = t->tune.note_count;
            while (from < count &&
                   t->tune.notes[from].at < t->tune.pickup + 2 * us_metre_bar_quarters(t->tune.metre))
                from++;
            for (uint64_t turn = 0; turn < 3 && from + 8 < count; turn++) {
                double share = fmod(((double)i + (double)turn / 3) * 0.618034, 1);
                size_t at = from + (size_t)(share * (double)(count - from - 8));
                recovery_add(&sum, (enum stumble)stumble, &t->tune, given, 66 + 60 * share, at, 3 * i + turn);
            }
        }
        printf(" %s %.3f%s", stumble_name((enum stumble)stumble), sum.right / sum.tried,
               stumble + 1 < STUMBLES ? "," : "\n");
    }
}

int main(int argc, char **argv)
{
    const char *folder;
    int fold = 0, limit = 1000;
    const struct word WORDS[] = {
        {"FOLDER", WORD_TEXT, .to = &folder},
        {"FOLD", WORD_NUMBER, .optional = true, .low = -1, .high = CORPUS_FOLDS - 1, .to = &fold},
        {"LIMIT", WORD_NUMBER, .optional = true, .low = 1, .high = 100000, .to = &limit}};
    struct corpus corpus;
    int status = words_begin("evaluate_follower", WORDS, 3, argc, argv, &corpus);
    if (status) return status;
    for (size_t i = 0; i < corpus.count; i++) {
        const char *style = corpus.tunes[i].style;
        if (i && strcmp(style, corpus.tunes[i - 1].style) == 0) continue;
        evaluate_written(&corpus, style, fold);
        for (int given = 1; given >= 0; given--)
            for (int player = 0; player < PLAYERS; player++)
                evaluate(&corpus, style, (enum player)player, given, fold, limit);
        evaluate_stumbles(&corpus, style, true, fold, limit);
        evaluate_stumbles(&corpus, style, false, fold, limit);
    }
    corpus_finish(&corpus);
    return 0;
}
