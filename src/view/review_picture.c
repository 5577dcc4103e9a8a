#include "undersong/review_picture.h"

#include <cairo-svg.h>
#include <cairo.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "undersong/file_save.h"

/* In points.  Colours: Okabe and Ito, "Color Universal Design", 2008; each mark also has a shape of its own.
 */
enum {
    WIDTH = 1100,
    MARGIN = 40,
    LABEL = 128,
    TEMPO_ROOM = 64,
    HEAD = 104,
    LANE = 44,
    GAP = 10,
    SUMS = 92,
    FOOT = 116
};
enum colour { INK, GREY, LINE, PAPER, PLAYED, WRONG, WAIT, MISSED, BACK, COLOURS };
static const struct {
    double red, green, blue;
} PALETTE[2][COLOURS] = {{{0.12, 0.12, 0.12},
                          {0.42, 0.42, 0.42},
                          {0.80, 0.80, 0.80},
                          {1, 1, 1},
                          {0.95, 0.96, 0.97},
                          {0.84, 0.37, 0.0},
                          {0.0, 0.45, 0.70},
                          {0.12, 0.12, 0.12},
                          {0.0, 0.50, 0.37}},
                         {{0.95, 0.94, 0.90},
                          {0.70, 0.72, 0.77},
                          {0.34, 0.37, 0.42},
                          {0.07, 0.086, 0.114},
                          {0.12, 0.145, 0.19},
                          {0.96, 0.60, 0.36},
                          {0.45, 0.74, 0.96},
                          {0.95, 0.94, 0.90},
                          {0.40, 0.82, 0.64}}};

struct drawing {
    const struct us_review *review;
    cairo_t *cr;
    double quarters; /* length of the page */
    size_t first_take, lanes;
    bool dark;
};

static void use(const struct drawing *d, enum colour colour)
{
    cairo_set_source_rgb(d->cr, PALETTE[d->dark][colour].red, PALETTE[d->dark][colour].green,
                         PALETTE[d->dark][colour].blue);
}

static void font(const struct drawing *d, double size, bool bold)
{
    cairo_select_font_face(d->cr, "sans-serif", CAIRO_FONT_SLANT_NORMAL,
                           bold ? CAIRO_FONT_WEIGHT_BOLD : CAIRO_FONT_WEIGHT_NORMAL);
    cairo_set_font_size(d->cr, size);
}

/* `align` 0 left, 0.5 middle, 1 right. */
static void text(const struct drawing *d, double x, double y, double align, const char *words)
{
    cairo_text_extents_t extents;
    cairo_text_extents(d->cr, words, &extents);
    cairo_move_to(d->cr, x - align * extents.x_advance, y);
    cairo_show_text(d->cr, words);
}

static double bar_x(const struct drawing *d, double quarters)
{
    double left = MARGIN + LABEL, room = WIDTH - 2 * MARGIN - LABEL - TEMPO_ROOM;
    return left + room * quarters / d->quarters;
}

static double lane_y(size_t lane)
{
    return HEAD + (double)lane * (LANE + GAP);
}

static void box(const struct drawing *d, double x, double y, double width, double height)
{
    cairo_rectangle(d->cr, x, y, width, height);
    cairo_fill(d->cr);
}

static void draw_cross(const struct drawing *d, double x, double y)
{
    use(d, WRONG);
    cairo_set_line_width(d->cr, 2.6);
    cairo_move_to(d->cr, x - 4.5, y - 4.5);
    cairo_line_to(d->cr, x + 4.5, y + 4.5);
    cairo_move_to(d->cr, x + 4.5, y - 4.5);
    cairo_line_to(d->cr, x - 4.5, y + 4.5);
    cairo_stroke(d->cr);
}

static void draw_ring(const struct drawing *d, double x, double y)
{
    use(d, MISSED);
    cairo_set_line_width(d->cr, 1.8);
    cairo_new_sub_path(d->cr);
    cairo_arc(d->cr, x, y, 4.5, 0, 2 * M_PI);
    cairo_stroke(d->cr);
}

static void draw_plus(const struct drawing *d, double x, double y)
{
    use(d, WRONG);
    cairo_set_line_width(d->cr, 1.6);
    cairo_move_to(d->cr, x - 4, y);
    cairo_line_to(d->cr, x + 4, y);
    cairo_move_to(d->cr, x, y - 4);
    cairo_line_to(d->cr, x, y + 4);
    cairo_stroke(d->cr);
}

/* As long as the wait: a quarter of a lane is one second. */
static void draw_wait(const struct drawing *d, double x, double bottom, double seconds)
{
    double height = fmin(LANE - 6, 6 + seconds * LANE / 4);
    use(d, WAIT);
    box(d, x - 4.5, bottom - height, 3, height);
    box(d, x + 0.5, bottom - height, 3, height);
}

static void draw_back(const struct drawing *d, double x, double y)
{
    use(d, BACK);
    cairo_move_to(d->cr, x - 6, y);
    cairo_line_to(d->cr, x + 3, y - 5);
    cairo_line_to(d->cr, x + 3, y + 5);
    cairo_close_path(d->cr);
    cairo_fill(d->cr);
}

static void draw_mark(const struct drawing *d, enum us_review_mark_kind kind, double x, double top,
                      double seconds)
{
    switch (kind) {
    case US_REVIEW_WRONG: draw_cross(d, x, top + 11); break;
    case US_REVIEW_ADDED: draw_plus(d, x, top + 11); break;
    case US_REVIEW_MISSED: draw_ring(d, x, top + 11); break;
    case US_REVIEW_WAITED: draw_wait(d, x, top + LANE - 2, seconds); break;
    default: draw_back(d, x, top + LANE / 2.0); break;
    }
}

/* The tempo of each bar against the whole: a thin line around the lane's middle. */
static void draw_tempo(const struct drawing *d, size_t take, double top)
{
    const struct us_review *review = d->review;
    bool open = false;
    use(d, GREY);
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

static void draw_lane(const struct drawing *d, size_t lane)
{
    const struct us_review *review = d->review;
    size_t take = d->first_take + lane;
    const struct us_take *t = &review->takes[take];
    double top = lane_y(lane);
    for (size_t b = 0; b < review->bar_count; b++) {
        const struct us_review_bar *bar = &review->bars[b];
        bool played = review->cells[take * review->bar_count + b].notes > 0;
        use(d, played ? PLAYED : PAPER);
        box(d, bar_x(d, bar->at), top, bar_x(d, bar->at + bar->len) - bar_x(d, bar->at), LANE);
        use(d, LINE);
        cairo_set_line_width(d->cr, 1);
        cairo_rectangle(d->cr, bar_x(d, bar->at), top, bar_x(d, bar->at + bar->len) - bar_x(d, bar->at),
                        LANE);
        cairo_stroke(d->cr);
    }
    draw_tempo(d, take, top);
    double beat = us_metre_beat_quarters(review->metre);
    for (size_t m = 0; m < review->mark_count; m++) {
        const struct us_review_mark *mark = &review->marks[m];
        if (mark->take != take) continue;
        double x = bar_x(d, review->bars[mark->bar].at + (mark->beat - 1) * beat) + 7;
        draw_mark(d, (enum us_review_mark_kind)mark->kind, x, top, mark->seconds);
    }
    char words[64], key[40];
    use(d, INK);
    font(d, 12, true);
    text(d, MARGIN, top + 18, 0, us_key_name(t->key, key, sizeof key));
    use(d, GREY);
    font(d, 11, false);
    snprintf(words, sizeof words, "session %u, %u %%", t->session + 1,
             t->notes ? 100 * t->right / t->notes : 0);
    text(d, MARGIN, top + 34, 0, words);
    snprintf(words, sizeof words, "%.0f", t->tempo);
    text(d, WIDTH - MARGIN, top + LANE / 2.0 + 4, 1, words);
}

/* Under the lanes: for each bar how often something went wrong there, all times together. */
static void draw_sums(const struct drawing *d)
{
    const struct us_review *review = d->review;
    double base = lane_y(d->lanes) + SUMS - 24, most = 1;
    for (size_t b = 0; b < review->bar_count; b++)
        most = fmax(most, review->bars[b].wrong + review->bars[b].missed + review->bars[b].waits);
    use(d, GREY);
    font(d, 11, false);
    text(d, MARGIN, base - 4, 0, "all together");
    for (size_t b = 0; b < review->bar_count; b++) {
        const struct us_review_bar *bar = &review->bars[b];
        double x = bar_x(d, bar->at), width = bar_x(d, bar->at + bar->len) - x, unit = (SUMS - 44) / most;
        double wait = bar->waits * unit, wrong = (bar->wrong + bar->missed) * unit;
        use(d, WAIT);
        box(d, x + 3, base - wait, fmax(1, width - 6), wait);
        use(d, WRONG);
        box(d, x + 3, base - wait - wrong, fmax(1, width - 6), wrong);
        char number[12];
        snprintf(number, sizeof number, "%u", bar->waits + bar->wrong + bar->missed);
        use(d, INK);
        if (wait + wrong > 0) text(d, x + width / 2, base - wait - wrong - 4, 0.5, number);
    }
    use(d, GREY);
    cairo_set_line_width(d->cr, 1);
    cairo_move_to(d->cr, bar_x(d, 0), base + 0.5);
    cairo_line_to(d->cr, bar_x(d, d->quarters), base + 0.5);
    cairo_stroke(d->cr);
}

static void draw_head(const struct drawing *d)
{
    const struct us_review *review = d->review;
    char words[300], key[40];
    use(d, INK);
    font(d, 22, true);
    text(d, MARGIN, 42, 0, *review->title ? review->title : "The tune");
    font(d, 13, false);
    snprintf(words, sizeof words, "written in %s; %zu session%s, %zu time%s through%s",
             us_key_name(review->key, key, sizeof key), review->session_count,
             review->session_count == 1 ? "" : "s", review->take_count, review->take_count == 1 ? "" : "s",
             d->first_take ? "; the last ones are shown" : "");
    text(d, MARGIN, 64, 0, words);
    use(d, GREY);
    font(d, 11, false);
    size_t every = 1 + (size_t)review->bar_count / 36;
    for (size_t b = 0; b < review->bar_count; b++) {
        const struct us_review_bar *bar = &review->bars[b];
        if (bar->number < 1 || (size_t)(bar->number - 1) % every) continue;
        snprintf(words, sizeof words, "%d", bar->number);
        text(d, bar_x(d, bar->at + bar->len / 2), HEAD - 8, 0.5, words);
    }
    text(d, MARGIN, HEAD - 8, 0, "bar");
    text(d, WIDTH - MARGIN, HEAD - 8, 1, "tempo");
}

static void draw_legend(const struct drawing *d, double y)
{
    static const struct {
        enum us_review_mark_kind kind;
        const char *words;
    } ROWS[] = {{US_REVIEW_WRONG, "a wrong note"},
                {US_REVIEW_MISSED, "left out"},
                {US_REVIEW_ADDED, "a note too many"},
                {US_REVIEW_WAITED, "waited; taller is longer"},
                {US_REVIEW_WENT_BACK, "went back to here"}};
    double x = MARGIN + 6;
    font(d, 11, false);
    for (size_t i = 0; i < sizeof ROWS / sizeof *ROWS; i++) {
        cairo_text_extents_t extents;
        double top = ROWS[i].kind == US_REVIEW_WAITED      ? y + 3 - LANE
                     : ROWS[i].kind == US_REVIEW_WENT_BACK ? y - 4 - LANE / 2.0
                                                           : y - 15;
        draw_mark(d, ROWS[i].kind, x, top, 0.5);
        use(d, INK);
        text(d, x + 12, y, 0, ROWS[i].words);
        cairo_text_extents(d->cr, ROWS[i].words, &extents);
        x += extents.x_advance + 40;
    }
    use(d, GREY);
    text(d, x, y, 0, "the thin line: quicker above, slower below");
}

static void draw_advice(const struct drawing *d, double y)
{
    char line[420] = "";
    use(d, INK);
    font(d, 14, false);
    for (const char *word = d->review->advice.text; *word;) {
        int length = (int)strcspn(word, " ");
        char longer[420];
        cairo_text_extents_t extents;
        snprintf(longer, sizeof longer, "%s%s%.*s", line, *line ? " " : "", length, word);
        cairo_text_extents(d->cr, longer, &extents);
        if (extents.x_advance > WIDTH - 2 * MARGIN && *line) {
            text(d, MARGIN, y, 0, line);
            y += 20;
            snprintf(line, sizeof line, "%.*s", length, word);
        } else {
            memcpy(line, longer, sizeof line);
        }
        word += length;
        word += strspn(word, " ");
    }
    text(d, MARGIN, y, 0, line);
}

static void draw(struct drawing *d, double height)
{
    use(d, PAPER);
    box(d, 0, 0, WIDTH, height);
    draw_head(d);
    for (size_t lane = 0; lane < d->lanes; lane++)
        draw_lane(d, lane);
    draw_sums(d);
    double foot = lane_y(d->lanes) + SUMS;
    draw_legend(d, foot + 16);
    draw_advice(d, foot + 52);
}

struct bytes {
    unsigned char *data;
    size_t size;
};

static cairo_status_t collect(void *closure, const unsigned char *data, unsigned int length)
{
    struct bytes *bytes = closure;
    unsigned char *grown = realloc(bytes->data, bytes->size + length + 1);
    if (!grown) return CAIRO_STATUS_NO_MEMORY;
    memcpy(grown + bytes->size, data, length);
    bytes->data = grown;
    bytes->size += length;
    return CAIRO_STATUS_SUCCESS;
}

static cairo_status_t render(struct drawing *d, double height, bool png, struct bytes *bytes)
{
    enum { FINE = 2 }; /* pixels a point */
    cairo_surface_t *surface =
        png ? cairo_image_surface_create(CAIRO_FORMAT_RGB24, WIDTH * FINE, (int)height * FINE)
            : cairo_svg_surface_create_for_stream(collect, bytes, WIDTH, height);
    d->cr = cairo_create(surface);
    if (png) cairo_scale(d->cr, FINE, FINE);
    draw(d, height);
    cairo_status_t status = cairo_status(d->cr);
    cairo_destroy(d->cr);
    if (!status && png) status = cairo_surface_write_to_png_stream(surface, collect, bytes);
    cairo_surface_finish(surface);
    if (!status) status = cairo_surface_status(surface);
    cairo_surface_destroy(surface);
    return status;
}

static bool begin(struct drawing *d, const struct us_review *review)
{
    *d = (struct drawing){.review = review};
    if (!review->take_count || !review->bar_count) return false;
    d->lanes = review->take_count < US_REVIEW_LANES ? review->take_count : US_REVIEW_LANES;
    d->first_take = review->take_count - d->lanes;
    const struct us_review_bar *last = &review->bars[review->bar_count - 1];
    d->quarters = last->at + last->len;
    return true;
}

static double height_of(const struct drawing *d)
{
    return lane_y(d->lanes) + SUMS + FOOT;
}

double us_review_height(const struct us_review *review)
{
    struct drawing d;
    return begin(&d, review) ? height_of(&d) / WIDTH : 0;
}

void us_review_draw(const struct us_review *review, cairo_t *cr, double width, bool dark)
{
    struct drawing d;
    if (!begin(&d, review)) return;
    d.cr = cr;
    d.dark = dark;
    cairo_save(cr);
    cairo_scale(cr, width / WIDTH, width / WIDTH);
    draw(&d, height_of(&d));
    cairo_restore(cr);
}

enum us_status us_review_picture(const struct us_review *review, const char *path, bool png,
                                 struct us_error *error)
{
    struct drawing d;
    if (!begin(&d, review))
        return us_error_set(
            error, US_STATUS_BAD_INPUT,
            "no time through a known tune to draw; name the tune that was played with --tune FILE");
    struct bytes bytes = {0};
    cairo_status_t status = render(&d, height_of(&d), png, &bytes);
    enum us_status saved = status ? us_error_set(error, US_STATUS_IO, "%s: cannot be drawn: %s", path,
                                                 cairo_status_to_string(status))
                                  : us_file_save(path, bytes.data, bytes.size, 0666, error);
    free(bytes.data);
    return saved;
}
