/* The smaller tables: style, moves between chords, sevenths. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "lesson.h"
#include "moments.h"

enum { ROUNDS = 600, LIVE_STEPS = 4, CLUES = US_STYLE_CLUES, CLASSES = US_HARMONY_CLASSES };
static const float STYLE_RATE = 0.05f, STYLE_DECAY = 0.001f;

struct style_row {
    float x[CLUES], hymn;
};

/* Logistic regression by gradient descent with moments. */
static void fit_style(const struct style_row *rows, size_t count, float weights[CLUES])
{
    struct moments moments[CLUES] = {{0, 0}};
    memset(weights, 0, CLUES * sizeof *weights);
    for (int round = 1; round <= ROUNDS; round++) {
        double grad[CLUES] = {0};
        for (size_t r = 0; r < count; r++) {
            double sum = 0;
            for (int i = 0; i < CLUES; i++)
                sum += weights[i] * rows[r].x[i];
            double wrong = 1 / (1 + exp(-sum)) - rows[r].hymn;
            for (int i = 0; i < CLUES; i++)
                grad[i] += wrong * rows[r].x[i];
        }
        for (int i = 0; i < CLUES; i++) {
            double g = grad[i] / (double)count + STYLE_DECAY * weights[i];
            moments_step(&weights[i], &moments[i], g, STYLE_RATE, round);
        }
    }
}

/* The clues after 8, 16, 32 and 64 notes. */
static size_t live_rows(const struct lesson *l, struct style_row *rows)
{
    const struct us_tune *tune = l->from->tune;
    struct us_style_clues clues = {{0}, {0}, {0}, 0, 0, 0};
    size_t made = 0;
    for (size_t i = 1; i < tune->note_count && made < LIVE_STEPS; i++) {
        const struct us_note *a = &tune->notes[i - 1], *b = &tune->notes[i];
        us_style_note(&clues, b->at - a->at, b->pitch - a->pitch, a->pitch - l->from->key.tonic);
        if (i != (size_t)8 << made) continue;
        us_style_judge(&clues, NULL, tune->metre, 0, 0, rows[made].x);
        rows[made++].hymn = l->from->hymn;
    }
    return made;
}

bool learn_style(const struct lesson *lessons, size_t count, struct us_harmony_tables *out)
{
    struct style_row *rows = malloc((count + 1) * LIVE_STEPS * sizeof *rows);
    if (!rows) return false;
    size_t n = 0;
    for (size_t i = 0; i < count; i++) {
        if (lessons[i].from->hymn < 0) continue;
        for (int k = 0; k < LESSON_LENGTHS; k++) {
            if (lessons[i].text[k].count == 0) continue;
            memcpy(rows[n].x, lessons[i].text[k].clues, sizeof rows[n].x);
            rows[n++].hymn = lessons[i].from->hymn;
        }
    }
    if (n) fit_style(rows, n, out->style_whole);
    n = 0;
    for (size_t i = 0; i < count; i++)
        if (lessons[i].from->hymn >= 0) n += live_rows(&lessons[i], &rows[n]);
    if (n) fit_style(rows, n, out->style_live);
    free(rows);
    return true;
}

static bool is_minor(const struct lesson *l)
{
    return us_mode_has_minor_third((enum us_mode)l->from->key.mode);
}

static void count_moves(const struct lesson *l, double moves[CLASSES][CLASSES])
{
    for (size_t t = 1; t < l->count; t++)
        if (l->chord[t] >= 0 && l->chord[t - 1] >= 0) moves[l->chord[t - 1]][l->chord[t]]++;
}

static void weigh_moves(double moves[CLASSES][CLASSES], float out[CLASSES][CLASSES])
{
    double to_all[CLASSES] = {0}, all = 0;
    for (int i = 0; i < CLASSES; i++)
        for (int k = 0; k < CLASSES; k++) {
            to_all[k] += moves[i][k] + 0.05;
            all += moves[i][k] + 0.05;
        }
    for (int i = 0; i < CLASSES; i++) {
        double from = 0;
        for (int k = 0; k < CLASSES; k++)
            from += moves[i][k];
        for (int k = 0; k < CLASSES; k++) {
            double chance = to_all[k] / all;
            out[i][k] = (float)log((moves[i][k] + 8 * chance) / (from + 8) / chance);
        }
    }
}

static void count_sevenths(const struct lesson *l, double sevenths[CLASSES], double all[CLASSES])
{
    for (size_t i = 0; i < l->from->tune->chord_count && l->from->key.tonic != US_NO_KEY; i++) {
        const struct us_chord_span *span = &l->from->tune->chords[i];
        if (span->chord.root == US_NO_CHORD) continue;
        int class = us_class_of(span->chord, l->from->key);
        sevenths[class] +=
            (span->chord.kind == US_CHORD_DOM7 || span->chord.kind == US_CHORD_MIN7) * span->len;
        all[class] += span->len;
    }
}

void learn_moves(const struct lesson *lessons, size_t count, struct us_harmony_tables *out)
{
    for (int minor = 0; minor < 2; minor++) {
        double moves[CLASSES][CLASSES] = {{0}}, sevenths[CLASSES] = {0}, all[CLASSES] = {0};
        for (size_t i = 0; i < count; i++) {
            if (is_minor(&lessons[i]) != minor) continue;
            count_moves(&lessons[i], moves);
            count_sevenths(&lessons[i], sevenths, all);
        }
        weigh_moves(moves, out->class_move[minor]);
        for (int i = 0; i < CLASSES; i++)
            out->seventh[minor][i] = (float)((sevenths[i] + 1) / (all[i] + 4));
    }
}
