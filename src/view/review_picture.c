/* The picture of a review: a lane for each time through, the sums of all under them. */
#include "picture_file.h"
#include "review_drawing.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

static double bar_x(const struct drawing *d, double quarters)
{
    double left = MARGIN + LABEL, room = WIDTH - 2 * MARGIN - LABEL - TEMPO_ROOM;
    return left + room * quarters / d->quarters;
}

static double lane_y(size_t lane)
{
    return HEAD + (double)lane * (LANE + GAP);
}

/* The tempo of each bar against the whole: a thin line around the lane's middle. */
static void draw_tempo(const struct drawing *d, size_t take, double top)
{
    const struct us_review *review = d->review;
    bool open = false;
    review_use(d, GREY);
    cairo_set_line_width(d->cr, 1.2);
    for (size_t b = 0; b < review->bar_count; b++) {
        double tempo = (double)review->cells[take * review->bar_count + b].tempo,
               whole = review->takes[take].tempo;
        if (tempo <= 0 || whole <= 0) continue;
        double x = bar_x(d, review->bars[b].at + review->bars[b].len / 2);
        double y = top + LANE / 2.0 - fmax(-1, fmin(1, 1.6 * log(tempo / whole))) * (LANE / 2.0 - 6);
        if (open)
            cairo_line_to(d->cr, x, y);
        else
            cairo_move_to(d->cr, x, y);
        open = true;
    }
    cairo_stroke(d->cr);
}

/* Which time through it is, on the left, and its tempo on the right. */
static void label_lane(const struct drawing *d, const struct us_take *t, double top)
{
    char words[64], key[40];
    review_use(d, INK);
    review_font(d, 12, true);
    review_text(d, MARGIN, top + 18, 0, us_key_name(t->key, key, sizeof key));
    review_use(d, GREY);
    review_font(d, 11, false);
    snprintf(words, sizeof words, "session %u, %u %%", t->session + 1,
             t->notes ? 100 * t->right / t->notes : 0);
    review_text(d, MARGIN, top + 34, 0, words);
    snprintf(words, sizeof words, "%.0f", t->tempo);
    review_text(d, WIDTH - MARGIN, top + LANE / 2.0 + 4, 1, words);
}

static void draw_lane(const struct drawing *d, size_t lane)
{
    const struct us_review *review = d->review;
    size_t take = d->first_take + lane;
    double top = lane_y(lane);
    for (size_t b = 0; b < review->bar_count; b++) {
        const struct us_review_bar *bar = &review->bars[b];
        double x = bar_x(d, bar->at), width = bar_x(d, bar->at + bar->len) - x;
        bool played = review->cells[take * review->bar_count + b].notes > 0;
        review_use(d, played ? PLAYED : PAPER);
        review_box(d, x, top, width, LANE);
        review_use(d, LINE);
        cairo_set_line_width(d->cr, 1);
        cairo_rectangle(d->cr, x, top, width, LANE);
        cairo_stroke(d->cr);
    }
    draw_tempo(d, take, top);
    double beat = us_metre_beat_quarters(review->metre);
    for (size_t m = 0; m < review->mark_count; m++) {
        const struct us_review_mark *mark = &review->marks[m];
        if (mark->take != take) continue;
        double x = bar_x(d, review->bars[mark->bar].at + (mark->beat - 1) * beat) + 7;
        review_mark(d, (enum us_review_mark_kind)mark->kind, x, top, mark->seconds);
    }
    label_lane(d, &review->takes[take], top);
}

/* Under the lanes: for each bar how often something went wrong there, all times together. */
static void draw_sums(const struct drawing *d)
{
    const struct us_review *review = d->review;
    double base = lane_y(d->lanes) + SUMS - 24, most = 1;
    for (size_t b = 0; b < review->bar_count; b++)
        most = fmax(most, review->bars[b].wrong + review->bars[b].missed + review->bars[b].waits);
    review_use(d, GREY);
    review_font(d, 11, false);
    review_text(d, MARGIN, base - 4, 0, "all together");
    for (size_t b = 0; b < review->bar_count; b++) {
        const struct us_review_bar *bar = &review->bars[b];
        double x = bar_x(d, bar->at), width = bar_x(d, bar->at + bar->len) - x, unit = (SUMS - 44) / most;
        double wait = bar->waits * unit, wrong = (bar->wrong + bar->missed) * unit;
        review_use(d, WAIT);
        review_box(d, x + 3, base - wait, fmax(1, width - 6), wait);
        review_use(d, WRONG);
        review_box(d, x + 3, base - wait - wrong, fmax(1, width - 6), wrong);
        char number[12];
        snprintf(number, sizeof number, "%u", bar->waits + bar->wrong + bar->missed);
        review_use(d, INK);
        if (wait + wrong > 0) review_text(d, x + width / 2, base - wait - wrong - 4, 0.5, number);
    }
    review_use(d, GREY);
    cairo_set_line_width(d->cr, 1);
    cairo_move_to(d->cr, bar_x(d, 0), base + 0.5);
    cairo_line_to(d->cr, bar_x(d, d->quarters), base + 0.5);
    cairo_stroke(d->cr);
}

/* As large as it fits in one line. */
static void draw_title(const struct drawing *d, const char *title)
{
    static const double SIZE = 22, ROOM = WIDTH - 2 * MARGIN;
    cairo_text_extents_t extents;
    review_font(d, SIZE, true);
    cairo_text_extents(d->cr, title, &extents);
    if (extents.x_advance > ROOM) review_font(d, SIZE * ROOM / extents.x_advance, true);
    review_text(d, MARGIN, 42, 0, title);
}

static void draw_head(const struct drawing *d)
{
    const struct us_review *review = d->review;
    char words[300], key[40];
    review_use(d, INK);
    draw_title(d, *review->title ? review->title : "The tune");
    review_font(d, 13, false);
    snprintf(words, sizeof words, "written in %s; %zu session%s, %zu time%s through%s",
             us_key_name(review->key, key, sizeof key), review->session_count,
             review->session_count == 1 ? "" : "s", review->take_count, review->take_count == 1 ? "" : "s",
             d->first_take ? "; the last ones are shown" : "");
    review_text(d, MARGIN, 64, 0, words);
    review_use(d, GREY);
    review_font(d, 11, false);
    size_t every = 1 + (size_t)review->bar_count / 36;
    for (size_t b = 0; b < review->bar_count; b++) {
        const struct us_review_bar *bar = &review->bars[b];
        if (bar->number < 1 || (size_t)(bar->number - 1) % every) continue;
        snprintf(words, sizeof words, "%d", bar->number);
        review_text(d, bar_x(d, bar->at + bar->len / 2), HEAD - 8, 0.5, words);
    }
    review_text(d, MARGIN, HEAD - 8, 0, "bar");
    review_text(d, WIDTH - MARGIN, HEAD - 8, 1, "tempo");
}

static void draw_advice(const struct drawing *d, double y)
{
    char line[420] = "";
    review_use(d, INK);
    review_font(d, 14, false);
    for (const char *word = d->review->advice.text; *word;) {
        int length = (int)strcspn(word, " ");
        char longer[420];
        cairo_text_extents_t extents;
        snprintf(longer, sizeof longer, "%s%s%.*s", line, *line ? " " : "", length, word);
        cairo_text_extents(d->cr, longer, &extents);
        if (extents.x_advance > WIDTH - 2 * MARGIN && *line) {
            review_text(d, MARGIN, y, 0, line);
            y += 20;
            snprintf(line, sizeof line, "%.*s", length, word);
        } else {
            memcpy(line, longer, sizeof line);
        }
        word += length;
        word += strspn(word, " ");
    }
    review_text(d, MARGIN, y, 0, line);
}

static bool begin(struct drawing *d, const struct us_review *review, bool alone)
{
    *d = (struct drawing){.review = review, .alone = alone};
    if (!review->take_count || !review->bar_count) return false;
    d->lanes = review->take_count < US_REVIEW_LANES ? review->take_count : US_REVIEW_LANES;
    d->first_take = review->take_count - d->lanes;
    const struct us_review_bar *last = &review->bars[review->bar_count - 1];
    d->quarters = last->at + last->len;
    return true;
}

static double height_of(const struct drawing *d)
{
    return lane_y(d->lanes) + SUMS + FOOT + (d->alone ? ADVICE : 0);
}

static void draw(struct drawing *d)
{
    review_use(d, PAPER);
    review_box(d, 0, 0, WIDTH, height_of(d));
    draw_head(d);
    for (size_t lane = 0; lane < d->lanes; lane++)
        draw_lane(d, lane);
    draw_sums(d);
    double foot = lane_y(d->lanes) + SUMS;
    review_legend(d, foot + 16);
    if (d->alone) draw_advice(d, foot + 52);
}

double us_review_height(const struct us_review *review)
{
    struct drawing d;
    return begin(&d, review, false) ? height_of(&d) / WIDTH : 0;
}

void us_review_draw(const struct us_review *review, cairo_t *cr, double width, bool dark)
{
    struct drawing d;
    if (!begin(&d, review, false)) return;
    d.cr = cr;
    d.dark = dark;
    cairo_save(cr);
    cairo_scale(cr, width / WIDTH, width / WIDTH);
    draw(&d);
    cairo_restore(cr);
}

static void draw_page(void *context, cairo_t *cr)
{
    struct drawing *d = context;
    d->cr = cr;
    draw(d);
}

enum us_status us_review_picture(const struct us_review *review, const char *path, bool png,
                                 struct us_error *error)
{
    enum { FINE = 2 };
    struct drawing d;
    if (!begin(&d, review, true))
        return us_error_set(
            error, US_STATUS_BAD_INPUT,
            "no time through a known tune to draw; name the tune that was played with --tune FILE");
    return picture_save(path, png, WIDTH, (int)height_of(&d), FINE, draw_page, &d, error);
}
