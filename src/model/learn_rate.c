/* How often chords change, learned from how often they do in what was written. */
#include "harmony_rate.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "lesson.h"
#include "moments.h"

enum { ROUNDS = 1500, CLUES = US_RATE_CLUES, RATES = US_RATES, LIVE_ROWS = 5 };
static const float RATE = 0.05f, DECAY = 0.003f;
/* Hymns are fewer; so neither style is found worse than by its commonest rate. */
static const float HYMN_WEIGHT = 6;
static const double FITS = 0.9, NEAR = 1e-3;

struct rows {
    struct rate_row {
        float x[CLUES], weight;
        struct us_metre metre;
        int rate;
    } * row;
    size_t count;
};

/* The share of the written beats whose role is the commonest in their bar, or in their half bar. */
static double unit_fit(const struct lesson *l, bool half)
{
    struct us_grid grid;
    double fits = 0, all = 0, count[3] = {0}, length = us_metre_half_quarters(l->request.metre);
    int32_t before = -2;
    us_grid_make(&grid, &l->request);
    for (size_t t = 0; t <= l->count; t++) {
        struct us_position p = {.bar = INT32_MAX / 4};
        if (t < l->count) us_grid_position(&grid, &l->request, t, &p);
        int32_t unit = 2 * p.bar + (half && p.bar_quarters > length - NEAR);
        if (unit != before) {
            fits += fmax(count[0], fmax(count[1], count[2]));
            memset(count, 0, sizeof count);
        }
        before = unit;
        if (t == l->count || l->role[t] < 0) continue;
        count[l->role[t]]++;
        all++;
    }
    return all > 0 ? fits / all : 1;
}

enum us_change lesson_rate(const struct lesson *l)
{
    bool half = us_rate_fits(US_CHANGE_HALF, l->request.metre),
         beat = us_rate_fits(US_CHANGE_BEAT, l->request.metre);
    if (unit_fit(l, false) >= FITS) return US_CHANGE_BAR;
    if (half && (!beat || unit_fit(l, true) >= FITS)) return US_CHANGE_HALF;
    return beat ? US_CHANGE_BEAT : US_CHANGE_BAR;
}

static struct rate_row *new_row(struct rows *rows, const struct lesson *l)
{
    struct rate_row *row = &rows->row[rows->count++];
    float hymn = l->from->hymn < 0 ? 0 : l->from->hymn;
    *row = (struct rate_row){.weight = 1 + (HYMN_WEIGHT - 1) * hymn,
                             .metre = l->request.metre,
                             .rate = (int)lesson_rate(l) - US_CHANGE_BAR};
    return row;
}

/* The clues of a text, as the whole-tune model has them before it knows the rate. */
static bool text_row(struct rows *rows, const struct lesson *l, const struct lesson_text *text,
                     const struct us_harmony_tables *tables)
{
    struct us_harmony_request request = l->request;
    struct us_harmony_view view;
    struct us_rate_clues clues;
    request.tables = tables;
    request.tune = &text->tune;
    request.chords = US_CHORDS_PRIMARY;
    request.change = US_CHANGE_BEAT;
    request.ignore_tune_chords = true;
    float *frames = malloc((text->count + 1) * US_NET_IN * sizeof *frames);
    void *workspace = malloc(us_harmony_workspace_size(&request));
    if (frames && workspace) {
        lesson_text_frames(l, text, text->tune.notes, frames);
        us_harmony_tune(&request, workspace, NULL, 0, &view);
        us_rate_start(&clues);
        for (size_t t = 0; t < view.beat_count; t++) {
            if (!view.beats[t].position.on_beat) continue;
            us_rate_begin_beat(&clues, &view.beats[t].position, &frames[t * US_NET_IN], view.beats[t].role);
            us_rate_end_beat(&clues, l->from->key, &frames[t * US_NET_IN]);
        }
        us_rate_numbers(&clues, request.metre, l->from->key, text->style, new_row(rows, l)->x);
    }
    bool fine = frames && workspace;
    free(frames);
    free(workspace);
    return fine;
}

static void live_row(struct rows *rows, const struct lesson *l, const struct us_harmony_live *h)
{
    float x[US_STYLE_CLUES];
    float style = us_style_judge(&h->clues, h->tables->style_live, l->request.metre, 0, 0, x);
    us_rate_numbers(&h->rate_clues, l->request.metre, l->from->key, style, new_row(rows, l)->x);
}

/* The clues at the start, after 4, 8 and 16 bars and at the end, as they are heard live. */
static void live_rows(struct rows *rows, const struct lesson *l, struct us_harmony_live *h)
{
    static const int32_t AFTER[LIVE_ROWS] = {0, 4, 8, 16, INT32_MAX};
    struct us_grid grid;
    struct lesson_hearing hearing = {.h = h, .tune = l->from->tune, .grid = &grid, .key = l->from->key};
    size_t made = 0;
    us_harmony_live_init(h, h->tables, US_CHORDS_PRIMARY, US_CHANGE_BEAT);
    us_grid_make(&grid, &l->request);
    for (size_t t = 0; t < l->count; t++) {
        struct us_position position;
        struct us_choice choice;
        us_grid_position(&grid, &l->request, t, &position);
        if (made + 1 < LIVE_ROWS && position.on_bar && position.bar >= AFTER[made]) {
            live_row(rows, l, h);
            made++;
        }
        lesson_hear(&hearing, t, &position);
        us_harmony_live_decide(h, l->from->key, &position, &choice);
    }
    live_row(rows, l, h);
}

/* What one row adds to the gradient of the logistic regression. */
static void add_gradient(const struct rate_row *row, float weights[RATES][CLUES], double grad[RATES][CLUES])
{
    float rate[RATES];
    us_rate_judge(weights, row->x, row->metre, rate);
    for (int r = 0; r < RATES; r++)
        for (int i = 0; i < CLUES; i++)
            grad[r][i] +=
                (double)row->weight * (double)(rate[r] - (float)(r == row->rate)) * (double)row->x[i];
}

static void fit(const struct rows *rows, float weights[RATES][CLUES])
{
    struct moments moments[RATES * CLUES] = {{0, 0}};
    double all = 0;
    memset(weights, 0, RATES * CLUES * sizeof(float));
    for (size_t i = 0; i < rows->count; i++)
        all += (double)rows->row[i].weight;
    for (int round = 1; round <= ROUNDS && rows->count; round++) {
        double grad[RATES][CLUES] = {{0}};
        for (size_t i = 0; i < rows->count; i++)
            add_gradient(&rows->row[i], weights, grad);
        for (int i = 0; i < RATES * CLUES; i++) {
            float *w = &weights[i / CLUES][i % CLUES];
            double g = grad[i / CLUES][i % CLUES] / all + (double)(DECAY * *w);
            moments_step(w, &moments[i], g, RATE, round);
        }
    }
}

bool learn_rates(const struct lesson *lessons, size_t count, struct us_harmony_tables *out)
{
    struct rows rows = {malloc((count + 1) * LIVE_ROWS * sizeof *rows.row), 0};
    struct us_harmony_live *h = calloc(1, sizeof *h);
    bool fine = rows.row && h;
    for (size_t i = 0; fine && i < count * LESSON_LENGTHS; i++) {
        const struct lesson *l = &lessons[i / LESSON_LENGTHS];
        const struct lesson_text *text = &l->text[i % LESSON_LENGTHS];
        fine = text->count == 0 || text_row(&rows, l, text, out);
    }
    if (fine) fit(&rows, out->rate_whole);
    rows.count = 0;
    for (size_t i = 0; fine && i < count; i++) {
        h->tables = out;
        live_rows(&rows, &lessons[i], h);
    }
    if (fine) fit(&rows, out->rate_live);
    free(rows.row);
    free(h);
    return fine;
}
