/* Learns the tables of the key finder from tunes whose key is known.

   usage: learn_key FOLDER [TABLES.c]
   With TABLES.c the tables are written there, learned from all tunes.  Else it prints how often the key is
   found, each fold judged by tables learned from the others. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "../core/keyfinder_parts.h"
#include "corpus.h"
#include "program_words.h"

enum { DEGREES = US_PITCH_CLASSES, ALL_FOLDS = -1 };

/* Counts, not yet probabilities. */
struct counts {
    double family[KEY_TABLES];
    double first[KEY_TABLES][DEGREES], bar[KEY_TABLES][DEGREES], low[KEY_TABLES][DEGREES];
    double high[KEY_TABLES][DEGREES], longest[KEY_TABLES][DEGREES], last[KEY_TABLES][DEGREES];
    double profile[KEY_TABLES][DEGREES];
    double interval[KEY_TABLES][DEGREES][KEY_INTERVALS];
    double pair[KEY_TABLES][DEGREES][DEGREES];
    double after_two[KEY_TABLES][DEGREES][DEGREES][DEGREES];
};

static bool on_bar_line(const struct us_tune *tune, size_t i)
{
    double bars = (tune->notes[i].at - tune->pickup) / us_metre_bar_quarters(tune->metre);
    return fabs(bars - round(bars)) < 1e-3;
}

static double onset_to_onset(const struct us_tune *tune, size_t i)
{
    return i + 1 < tune->note_count ? tune->notes[i + 1].at - tune->notes[i].at : tune->notes[i].len;
}

static int clamp_interval(int interval)
{
    return interval < -12 ? 0 : interval > 12 ? KEY_INTERVALS - 1 : interval + 12;
}

static void count_opening(struct counts *c, const struct corpus_tune *t, int table, const int *degree)
{
    const struct us_tune *tune = &t->tune;
    size_t low = 0, high = 0, longest = 0, count = tune->note_count;
    if (count > KEY_OPENING_NOTES) count = KEY_OPENING_NOTES;
    bool bar_seen = false;
    for (size_t i = 0; i < count; i++) {
        if (tune->notes[i].pitch < tune->notes[low].pitch) low = i;
        if (tune->notes[i].pitch > tune->notes[high].pitch) high = i;
        if (i + 1 < count && onset_to_onset(tune, i) > onset_to_onset(tune, longest)) longest = i;
        if (!bar_seen && t->grid_sure && on_bar_line(tune, i)) {
            c->bar[table][degree[i]]++;
            bar_seen = true;
        }
    }
    c->first[table][degree[0]]++;
    c->low[table][degree[low]]++;
    c->high[table][degree[high]]++;
    c->longest[table][degree[longest]]++;
}

static void count_tune(struct counts *c, const struct corpus_tune *t)
{
    const struct us_tune *tune = &t->tune;
    int table = t->key.mode == US_MODE_MINOR;
    int *degree = words_room(tune->note_count, sizeof *degree);
    double quarters = 0;
    for (size_t i = 0; i < tune->note_count; i++) {
        degree[i] = us_pitch_class(tune->notes[i].pitch - t->key.tonic);
        quarters += fmin(onset_to_onset(tune, i), 2);
    }
    c->family[table]++;
    c->last[table][degree[tune->note_count - 1]]++;
    count_opening(c, t, table, degree);
    for (size_t i = 0; i < tune->note_count; i++) {
        c->profile[table][degree[i]] += fmin(onset_to_onset(tune, i), 2) * 20 / quarters;
        if (i < 1) continue;
        c->pair[table][degree[i - 1]][degree[i]]++;
        c->interval[table][degree[i - 1]][clamp_interval(tune->notes[i].pitch - tune->notes[i - 1].pitch)]++;
        if (i > 1) c->after_two[table][degree[i - 2]][degree[i - 1]][degree[i]]++;
    }
    free(degree);
}

/* No note is so unheard of that it rules a key out by itself: a small share stays for each. */
static double never_nothing(double probability, int choices)
{
    static const double LEFT_OPEN = 0.03;
    return (1 - LEFT_OPEN) * probability + LEFT_OPEN / choices;
}

static int16_t thousandths(double probability)
{
    return (int16_t)lround(1000 * log(probability));
}

/* Counts with `more` added to each, as logarithms of their shares. */
static void shares(const double counts[KEY_TABLES][DEGREES], double more, int16_t out[KEY_TABLES][DEGREES])
{
    for (int table = 0; table < KEY_TABLES; table++) {
        double sum = 0;
        for (int d = 0; d < DEGREES; d++)
            sum += counts[table][d] + more;
        for (int d = 0; d < DEGREES; d++)
            out[table][d] = thousandths((counts[table][d] + more) / sum);
    }
}

/* The next degree after one, leaning on how often each degree is heard at all. */
static void smooth_pairs(const struct counts *c, int table, double out[DEGREES][DEGREES])
{
    double any[DEGREES], all = 0;
    for (int to = 0; to < DEGREES; to++) {
        any[to] = 1;
        for (int from = 0; from < DEGREES; from++)
            any[to] += c->pair[table][from][to];
        all += any[to];
    }
    for (int from = 0; from < DEGREES; from++) {
        double sum = 0;
        for (int to = 0; to < DEGREES; to++)
            sum += c->pair[table][from][to];
        for (int to = 0; to < DEGREES; to++)
            out[from][to] = (c->pair[table][from][to] + 6 * any[to] / all) / (sum + 6);
    }
}

/* Which way the line goes to a degree: the share of an interval among those to the same pitch class. */
static void interval_shares(const struct counts *c, double out[KEY_INTERVALS])
{
    double all[KEY_INTERVALS], sum[DEGREES] = {0};
    for (int i = 0; i < KEY_INTERVALS; i++) {
        all[i] = 0.1;
        for (int table = 0; table < KEY_TABLES; table++)
            for (int from = 0; from < DEGREES; from++)
                all[i] += c->interval[table][from][i];
        sum[us_pitch_class(i - 12)] += all[i];
    }
    for (int i = 0; i < KEY_INTERVALS; i++)
        out[i] = all[i] / sum[us_pitch_class(i - 12)];
}

static void learn_steps(const struct counts *c, struct us_key_tables *t)
{
    double way[KEY_INTERVALS], pairs[DEGREES][DEGREES];
    interval_shares(c, way);
    for (int table = 0; table < KEY_TABLES; table++) {
        smooth_pairs(c, table, pairs);
        for (int from = 0; from < DEGREES; from++) {
            double sum = 0;
            for (int i = 0; i < KEY_INTERVALS; i++)
                sum += c->interval[table][from][i];
            for (int i = 0; i < KEY_INTERVALS; i++) {
                double expected = pairs[from][us_pitch_class(from + i - 12)] * way[i];
                t->interval[table][from][i] = thousandths(
                    never_nothing((c->interval[table][from][i] + 5 * expected) / (sum + 5), KEY_INTERVALS));
            }
        }
        for (int before = 0; before < DEGREES; before++)
            for (int from = 0; from < DEGREES; from++) {
                const double *counts = c->after_two[table][before][from];
                double sum = 0;
                for (int to = 0; to < DEGREES; to++)
                    sum += counts[to];
                for (int to = 0; to < DEGREES; to++)
                    t->after_two[table][before][from][to] =
                        thousandths(never_nothing((counts[to] + 8 * pairs[from][to]) / (sum + 8), DEGREES));
            }
    }
}

/* From the tunes outside `fold`. */
static void learn(const struct corpus *corpus, int fold, struct us_key_tables *t)
{
    struct counts *c = words_room(1, sizeof *c);
    for (size_t i = 0; i < corpus->count; i++) {
        const struct corpus_tune *tune = &corpus->tunes[i];
        if (tune->key_sure && tune->fold != fold && tune->tune.note_count > 1) count_tune(c, tune);
    }
    double tunes = c->family[0] + c->family[1] + 2;
    for (int table = 0; table < KEY_TABLES; table++)
        t->family[table] = thousandths((c->family[table] + 1) / tunes);
    shares(c->first, 0.5, t->first);
    shares(c->bar, 0.4, t->bar);
    shares(c->low, 0.4, t->low);
    shares(c->high, 0.4, t->high);
    shares(c->longest, 0.4, t->longest);
    shares(c->last, 0.3, t->last);
    shares(c->profile, 1, t->profile);
    learn_steps(c, t);
    free(c);
}

static void write_row(FILE *out, const int16_t *row, size_t count)
{
    fputs("    {", out);
    for (size_t i = 0; i < count; i++)
        fprintf(out, "%s%d", i ? ", " : "", row[i]);
    fputs("},\n", out);
}

static void write_rows(FILE *out, const char *name, const int16_t *rows, size_t count, size_t width)
{
    fprintf(out, "  .%s = {\n", name);
    for (size_t i = 0; i < count; i++)
        write_row(out, rows + i * width, width);
    fputs("  },\n", out);
}

/* Rows in braces of their own, `indent` before these. */
static void write_block(FILE *out, const char *indent, const int16_t *rows, size_t count, size_t width)
{
    fprintf(out, "%s{\n", indent);
    for (size_t i = 0; i < count; i++)
        write_row(out, rows + i * width, width);
    fprintf(out, "%s},\n", indent);
}

static void write_tables(FILE *out, const struct us_key_tables *t)
{
    fputs("/* Written by src/model/learn_key.c; not to be changed by hand.  Learned from the tunes whose key "
          "is known\n"
          "   in a corpus of folk tunes (after the Nottingham database) and hymn tunes with chords. */\n"
          "/* clang-format off */\n#include \"../core/keyfinder_parts.h\"\n\n"
          "const struct us_key_tables us_key_tables_built_in = {\n",
          out);
    fprintf(out, "  .family = {%d, %d},\n", t->family[0], t->family[1]);
    const struct {
        const char *name;
        const int16_t *rows;
    } PLAIN[] = {{"first", t->first[0]},    {"bar", t->bar[0]},         {"low", t->low[0]},
                 {"high", t->high[0]},      {"longest", t->longest[0]}, {"last", t->last[0]},
                 {"profile", t->profile[0]}};
    for (size_t i = 0; i < sizeof PLAIN / sizeof *PLAIN; i++)
        write_rows(out, PLAIN[i].name, PLAIN[i].rows, KEY_TABLES, DEGREES);
    fputs("  .interval = {\n", out);
    for (int table = 0; table < KEY_TABLES; table++)
        write_block(out, "   ", t->interval[table][0], DEGREES, KEY_INTERVALS);
    fputs("  },\n  .after_two = {\n", out);
    for (int table = 0; table < KEY_TABLES; table++) {
        fputs("   {\n", out);
        for (int before = 0; before < DEGREES; before++)
            write_block(out, "    ", t->after_two[table][before][0], DEGREES, DEGREES);
        fputs("   },\n", out);
    }
    fputs("  },\n};\n", out);
}

struct score {
    int tunes, whole, whole_tonic, at_8, at_8_and_end, from_8_on, at_end, changes, notes, notes_right;
};

static struct us_key family_of(struct us_key key)
{
    key.mode = us_key_table_of[key.mode];
    return key;
}

static void judge_live(const struct corpus_tune *t, const struct us_key_tables *tables, struct score *s)
{
    struct us_keyfinder k;
    const struct us_tune *tune = &t->tune;
    bool always = true, at_8 = false, right = false;
    int before = -1;
    us_keyfinder_init_with(&k, tables);
    for (size_t i = 0; i < tune->note_count; i++) {
        if (i > 0) us_keyfinder_lasted(&k, onset_to_onset(tune, i - 1));
        bool bar = t->grid_sure && on_bar_line(tune, i);
        us_keyfinder_note(&k, tune->notes[i].pitch, bar ? 1.5 : 1, i == 0);
        int tonic = us_keyfinder_best(&k, NULL).tonic;
        right = tonic == t->key.tonic;
        if (i == 7) at_8 = right;
        if (i >= 7) always = always && right, s->notes++, s->notes_right += right;
        if (i >= 8) s->changes += tonic != before;
        before = tonic;
    }
    s->at_8 += at_8;
    s->at_8_and_end += at_8 && right;
    s->from_8_on += always;
    s->at_end += right;
}

static void judge(const struct corpus_tune *t, const struct us_key_tables *tables, struct score *s)
{
    int *pitches = words_room(t->tune.note_count, sizeof *pitches);
    for (size_t i = 0; i < t->tune.note_count; i++)
        pitches[i] = t->tune.notes[i].pitch;
    struct us_key whole = us_key_of_tune_with(tables, pitches, t->tune.note_count, NULL);
    free(pitches);
    s->tunes++;
    s->whole += us_key_equal(family_of(whole), t->key);
    s->whole_tonic += whole.tonic == t->key.tonic;
    judge_live(t, tables, s);
}

static void print_score(const char *style, const struct score *s)
{
    double n = s->tunes;
    printf("%-8s tunes %d  whole tune: tonic and mode %.3f tonic %.3f  live tonic: after 8 notes %.3f, then "
           "and at the "
           "end %.3f, from then on always %.3f, at the end %.3f; changes a tune %.2f; notes right %.4f\n",
           style, s->tunes, s->whole / n, s->whole_tonic / n, s->at_8 / n, s->at_8_and_end / n,
           s->from_8_on / n, s->at_end / n, s->changes / n, (double)s->notes_right / s->notes);
}

static void cross_validate(const struct corpus *corpus)
{
    static struct us_key_tables tables[CORPUS_FOLDS];
    for (int fold = 0; fold < CORPUS_FOLDS; fold++)
        learn(corpus, fold, &tables[fold]);
    for (size_t first = 0; first < corpus->count;) {
        struct score s = {0};
        size_t i = first;
        for (; i < corpus->count && strcmp(corpus->tunes[i].style, corpus->tunes[first].style) == 0; i++)
            if (corpus->tunes[i].key_sure && corpus->tunes[i].tune.note_count > 1)
                judge(&corpus->tunes[i], &tables[corpus->tunes[i].fold], &s);
        print_score(corpus->tunes[first].style, &s);
        first = i;
    }
}

int main(int argc, char **argv)
{
    static const char NAME[] = "learn_key";
    const char *folder, *path = NULL;
    const struct word WORDS[] = {{"FOLDER", WORD_TEXT, .to = &folder},
                                 {"TABLES.c", WORD_TEXT, .optional = true, .to = &path}};
    struct corpus corpus;
    int status = words_begin(NAME, WORDS, 2, argc, argv, &corpus);
    if (status) return status;
    FILE *out = path ? words_open(NAME, path) : NULL;
    if (out) {
        static struct us_key_tables tables;
        learn(&corpus, ALL_FOLDS, &tables);
        write_tables(out, &tables);
        status = words_close(NAME, path, out) ? 0 : 1;
    } else if (path) {
        status = 1;
    } else {
        cross_validate(&corpus);
    }
    corpus_finish(&corpus);
    return status;
}
