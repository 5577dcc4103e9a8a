/* Learns which rhythm and which turns of the melody to expect where in the bar, and writes the follower's
   tables.

   usage: learn_rhythm FOLDER TABLES.h [FOLDS]
   Tunes of the FOLDS are left out, to be judged on.  Counts are smoothed from the general to the particular:
   any place by its strength, place in the beat, place in the bar, place and the step before. */
#include "corpus.h"

#include "follower_parts.h"
#include "program_words.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

enum { PLACES = RHYTHM_SLOTS };

static const double HABIT = 0.5; /* how far rhythm goes on as it has begun, whatever the metre */

static double by_beat[RHYTHM_TABLES][PLACES][RHYTHM_STEPS], by_bar[RHYTHM_TABLES][PLACES][RHYTHM_STEPS];
static double by_class[RHYTHM_TABLES][PLACES][RHYTHM_CLASSES][RHYTHM_STEPS];
static double turns[RHYTHM_TABLES][CONTOUR_PLACES][CONTOURS], any_turn[CONTOURS];
static double openings[2][OPENINGS]; /* the first interval: with the first note on a bar line, or not */

static int step_of(int32_t ticks)
{
    for (int k = 0; k < RHYTHM_STEPS; k++)
        if (RHYTHM_TICKS[k] == ticks) return k;
    return -1;
}

static int32_t ticks_of(double quarters)
{
    return (int32_t)lround(quarters * US_FOLLOWER_TICKS);
}

static void count_rhythm(int table, int32_t place, int32_t beat, int class, int step, double weight)
{
    by_beat[table][rhythm_slot(place % beat)][step] += weight;
    by_bar[table][rhythm_slot(place)][step] += weight;
    by_class[table][rhythm_slot(place)][class][step] += weight;
}

/* The tune's own table, and the one that knows only beats. */
static void count_tune(const struct corpus_tune *t, double weight)
{
    const struct us_tune *tune = &t->tune;
    struct us_follower_metre m = rhythm_metre(tune->metre, 0);
    int32_t up = ticks_of(tune->pickup), beat = m.beat_ticks == 36 ? 36 : 24;
    int beats_only = beat == 36 ? TABLE_COMPOUND : TABLE_SIMPLE, last = NO_STEP;
    if (tune->note_count > 1) {
        bool on_line = wrap(ticks_of(tune->notes[0].at) - up, m.bar_ticks) == 0;
        openings[!on_line][opening_of(tune->notes[0].pitch, tune->notes[1].pitch)] += weight;
    }
    for (size_t i = 0; i + 1 < tune->note_count; i++) {
        int32_t place = wrap(ticks_of(tune->notes[i].at) - up, m.bar_ticks) % m.table_ticks;
        int step = step_of(ticks_of(tune->notes[i + 1].at) - ticks_of(tune->notes[i].at));
        if (i) {
            int turn = contour_of(tune->notes[i - 1].pitch, tune->notes[i].pitch, tune->notes[i + 1].pitch);
            turns[m.table][contour_place(&m, place)][turn] += weight;
            any_turn[turn] += weight;
        }
        if (step >= 0) {
            int class = rhythm_class((uint8_t)last);
            count_rhythm(m.table, place, beat, class, step, weight);
            count_rhythm(beats_only, place % beat, beat, class, step, weight);
        }
        last = step < 0 ? NO_STEP : step;
    }
}

/* What to expect of a place before any tune was seen: notes on strong places, usual lengths. */
static void usual(const struct us_follower_metre *m, int32_t place, double *out)
{
    static const double LENGTHS[RHYTHM_STEPS] = {.03,  .1, .05,  .25, .01,  .04, .25,  .005, .07,
                                                 .005, .1, .005, .04, .003, .02, .003, .005, .004};
    double sum = 0;
    for (int k = 0; k < RHYTHM_STEPS; k++) {
        int32_t end = (place + RHYTHM_TICKS[k]) % m->table_ticks;
        double strength = end == 0                         ? 1
                          : end % m->beat_ticks == 0       ? 0.8
                          : end % 12 == 0                  ? 0.4
                          : end % 6 == 0                   ? 0.15
                          : end % 8 == 0 && place % 8 == 0 ? 0.04
                                                           : 0.01;
        sum += out[k] = LENGTHS[k] * strength;
    }
    for (int k = 0; k < RHYTHM_STEPS; k++)
        out[k] /= sum;
}

static void smooth(const double *counts, const double *back, double weight, int size, double *out)
{
    double sum = weight;
    for (int k = 0; k < size; k++)
        sum += counts[k];
    for (int k = 0; k < size; k++)
        out[k] = (counts[k] + weight * back[k]) / sum;
}

static int sixteenths(double probability)
{
    double log16 = round(16 * log(probability));
    return log16 < -127 ? -127 : log16 > 127 ? 127 : (int)log16;
}

static void write_list(FILE *out, const double *p, int size, double (*ratio)(double, int))
{
    fprintf(out, "{");
    for (int k = 0; k < size; k++)
        fprintf(out, "%s%d", k ? "," : "", sixteenths(ratio ? ratio(p[k], k) : p[k]));
    fprintf(out, "},\n");
}

static const struct us_metre METRES[RHYTHM_TABLES] = {{2, 4}, {3, 4}, {4, 4}, {6, 8}, {9, 8}, {1, 4}, {3, 8}};

static struct us_follower_metre table_metre(int table)
{
    struct us_follower_metre m = rhythm_metre(METRES[table], 0);
    if (table == TABLE_COMPOUND) m.beat_ticks = 36;
    return m;
}

static void write_rhythm(FILE *out, int table, int slot)
{
    static const int32_t TICKS[] = {0, 4, 6, 8, 12, 16, 18, 20};
    struct us_follower_metre m = table_metre(table);
    int32_t place = slot / 8 * 24 + TICKS[slot % 8];
    int beats_only = m.beat_ticks == 36 ? TABLE_COMPOUND : TABLE_SIMPLE;
    fprintf(out, "{");
    for (int c = 0; c < RHYTHM_CLASSES; c++) {
        double plain[RHYTHM_STEPS], beat[RHYTHM_STEPS], bar[RHYTHM_STEPS], habit[RHYTHM_STEPS],
            share[RHYTHM_STEPS];
        if (place >= m.table_ticks) {
            fprintf(out, "{0},");
            continue;
        }
        usual(&m, place, plain);
        smooth(by_beat[table][rhythm_slot(place % m.beat_ticks)], plain, 30, RHYTHM_STEPS, beat);
        smooth(by_bar[table][slot], beat, 30, RHYTHM_STEPS, bar);
        smooth(by_class[beats_only][rhythm_slot(place % m.beat_ticks)][c], bar, 30, RHYTHM_STEPS, habit);
        for (int k = 0; k < RHYTHM_STEPS; k++)
            habit[k] = HABIT * habit[k] + (1 - HABIT) * bar[k];
        smooth(by_class[table][slot][c], habit, 50, RHYTHM_STEPS, share);
        for (int k = 0; k < RHYTHM_STEPS; k++)
            share[k] = 0.94 * share[k] + 0.06 * plain[k];
        write_list(out, share, RHYTHM_STEPS, NULL);
    }
    fprintf(out, "},\n");
}

static double against_any(double p, int turn)
{
    return p / any_turn[turn];
}

/* How much likelier each turn is at a place than anywhere. */
static void write_turns(FILE *out, int table)
{
    double share[CONTOURS];
    fprintf(out, "{");
    for (int place = 0; place < CONTOUR_PLACES; place++) {
        smooth(turns[table][place], any_turn, 60, CONTOURS, share);
        write_list(out, share, CONTOURS, against_any);
    }
    fprintf(out, "},\n");
}

/* How much likelier each first interval is with and without a pickup than in general. */
static void write_openings(FILE *out)
{
    static const double DOUBT = 0.01;
    double rate[2][OPENINGS], against[OPENINGS];
    for (int k = 0; k < 2; k++) {
        double sum = 0;
        for (int i = 0; i < OPENINGS; i++)
            sum += openings[k][i];
        for (int i = 0; i < OPENINGS; i++)
            rate[k][i] = openings[k][i] / sum + DOUBT;
    }
    for (int k = 0; k < 2; k++) {
        for (int i = 0; i < OPENINGS; i++)
            against[i] = 2 * rate[k][i] / (rate[0][i] + rate[1][i]);
        write_list(out, against, OPENINGS, NULL);
    }
}

static void write_tables(FILE *out, size_t tunes)
{
    fprintf(out,
            "/* Written by learn_rhythm from %zu tunes with known metre: fiddle and dance tunes, hymns.  "
            "Logarithms of\n"
            "   probabilities, in sixteenths of a neper. */\n"
            "/* clang-format off */\n"
            "static const int8_t RHYTHM[RHYTHM_TABLES][RHYTHM_SLOTS][RHYTHM_CLASSES][RHYTHM_STEPS] = {\n",
            tunes);
    for (int table = 0; table < RHYTHM_TABLES; table++) {
        fprintf(out, "{");
        for (int slot = 0; slot < RHYTHM_SLOTS; slot++)
            write_rhythm(out, table, slot);
        fprintf(out, "},\n");
    }
    fprintf(out, "};\nstatic const int8_t CONTOUR[RHYTHM_TABLES][CONTOUR_PLACES][CONTOURS] = {\n");
    double sum = 0;
    for (int k = 0; k < CONTOURS; k++)
        sum += any_turn[k] += 1;
    for (int k = 0; k < CONTOURS; k++)
        any_turn[k] /= sum;
    for (int table = 0; table < RHYTHM_TABLES; table++)
        write_turns(out, table);
    fprintf(out, "};\nstatic const int8_t OPENING[2][OPENINGS] = {\n");
    write_openings(out);
    fprintf(out, "};\n");
}

/* Styles count alike, though there are more folk tunes.  Returns how many tunes were counted. */
static size_t count_tunes(const struct corpus *corpus, const bool left_out[CORPUS_FOLDS])
{
    size_t used = 0;
    double notes[2] = {1, 1};
    for (int pass = 0; pass < 2; pass++)
        for (size_t i = 0; i < corpus->count; i++) {
            const struct corpus_tune *t = &corpus->tunes[i];
            bool hymn = corpus_is_hymn(t);
            if (!t->grid_sure || left_out[t->fold]) continue;
            if (!pass) notes[hymn] += (double)t->tune.note_count;
            if (pass) count_tune(t, hymn ? fmin(5, 0.5 * notes[0] / notes[1]) : 1);
            used += (size_t)pass;
        }
    return used;
}

int main(int argc, char **argv)
{
    static const char NAME[] = "learn_rhythm";
    const char *folder, *path;
    bool left_out[CORPUS_FOLDS] = {false};
    const struct word WORDS[] = {{"FOLDER", WORD_TEXT, .to = &folder},
                                 {"TABLES.h", WORD_TEXT, .to = &path},
                                 {"FOLDS", WORD_FOLDS, .optional = true, .to = left_out}};
    struct corpus corpus;
    int status = words_begin(NAME, WORDS, 3, argc, argv, &corpus);
    if (status) return status;
    size_t used = count_tunes(&corpus, left_out);
    corpus_finish(&corpus);
    FILE *out = words_open(NAME, path);
    if (!out) return 1;
    write_tables(out, used);
    return words_close(NAME, path, out) ? 0 : 1;
}
