/* The pen of the review's picture: colours, letters, and a sign for each kind of mark. */
#include "review_drawing.h"
#include "undersong/signs.h"

#include <math.h>

/* Colours: Okabe and Ito, "Color Universal Design", 2008; each mark also has a shape of its own. */
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

void review_use(const struct drawing *d, enum colour colour)
{
    cairo_set_source_rgb(d->cr, PALETTE[d->dark][colour].red, PALETTE[d->dark][colour].green,
                         PALETTE[d->dark][colour].blue);
}

void review_font(const struct drawing *d, double size, bool bold)
{
    cairo_select_font_face(d->cr, "sans-serif", CAIRO_FONT_SLANT_NORMAL,
                           bold ? CAIRO_FONT_WEIGHT_BOLD : CAIRO_FONT_WEIGHT_NORMAL);
    cairo_set_font_size(d->cr, size);
}

void review_text(const struct drawing *d, double x, double y, double align, const char *words)
{
    cairo_text_extents_t extents;
    char signs[512];
    us_write_signs(words, signs, sizeof signs);
    cairo_text_extents(d->cr, signs, &extents);
    cairo_move_to(d->cr, x - align * extents.x_advance, y);
    cairo_show_text(d->cr, signs);
}

void review_box(const struct drawing *d, double x, double y, double width, double height)
{
    cairo_rectangle(d->cr, x, y, width, height);
    cairo_fill(d->cr);
}

static void draw_cross(const struct drawing *d, double x, double y)
{
    review_use(d, WRONG);
    cairo_set_line_width(d->cr, 2.6);
    cairo_move_to(d->cr, x - 4.5, y - 4.5);
    cairo_line_to(d->cr, x + 4.5, y + 4.5);
    cairo_move_to(d->cr, x + 4.5, y - 4.5);
    cairo_line_to(d->cr, x - 4.5, y + 4.5);
    cairo_stroke(d->cr);
}

static void draw_ring(const struct drawing *d, double x, double y)
{
    review_use(d, MISSED);
    cairo_set_line_width(d->cr, 1.8);
    cairo_new_sub_path(d->cr);
    cairo_arc(d->cr, x, y, 4.5, 0, 2 * M_PI);
    cairo_stroke(d->cr);
}

static void draw_plus(const struct drawing *d, double x, double y)
{
    review_use(d, WRONG);
    cairo_set_line_width(d->cr, 1.6);
    cairo_move_to(d->cr, x - 4, y);
    cairo_line_to(d->cr, x + 4, y);
    cairo_move_to(d->cr, x, y - 4);
    cairo_line_to(d->cr, x, y + 4);
    cairo_stroke(d->cr);
}

/* A caesura: two slanted strokes, as engraved where the music stands still; a quarter of a lane's height is
   one second of it. */
static void draw_wait(const struct drawing *d, double x, double bottom, double seconds)
{
    double height = fmin(LANE - 6, 6 + seconds * LANE / 4);
    review_use(d, WAIT);
    cairo_set_line_width(d->cr, 2.4);
    for (int stroke = 0; stroke < 2; stroke++) {
        cairo_move_to(d->cr, x - 5 + 5 * stroke, bottom);
        cairo_line_to(d->cr, x - 1 + 5 * stroke, bottom - height);
        cairo_stroke(d->cr);
    }
}

/* A bow to the left, as drawn by hand over the bars that are played again. */
static void draw_back(const struct drawing *d, double x, double y)
{
    review_use(d, BACK);
    cairo_set_line_width(d->cr, 2);
    cairo_new_path(d->cr);
    cairo_arc_negative(d->cr, x + 1, y + 3, 6, 0, -M_PI);
    cairo_stroke(d->cr);
    cairo_move_to(d->cr, x - 5, y + 7);
    cairo_line_to(d->cr, x - 8.5, y + 1);
    cairo_line_to(d->cr, x - 1.5, y + 1);
    cairo_close_path(d->cr);
    cairo_fill(d->cr);
}

void review_mark(const struct drawing *d, enum us_review_mark_kind kind, double x, double top, double seconds)
{
    switch (kind) {
    case US_REVIEW_WRONG: draw_cross(d, x, top + 11); break;
    case US_REVIEW_ADDED: draw_plus(d, x, top + 11); break;
    case US_REVIEW_MISSED: draw_ring(d, x, top + 11); break;
    case US_REVIEW_WAITED: draw_wait(d, x, top + LANE - 2, seconds); break;
    default: draw_back(d, x, top + LANE / 2.0); break;
    }
}

void review_legend(const struct drawing *d, double y)
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
    review_font(d, 11, false);
    for (size_t i = 0; i < sizeof ROWS / sizeof *ROWS; i++) {
        cairo_text_extents_t extents;
        double top = ROWS[i].kind == US_REVIEW_WAITED      ? y + 3 - LANE
                     : ROWS[i].kind == US_REVIEW_WENT_BACK ? y - 4 - LANE / 2.0
                                                           : y - 15;
        review_mark(d, ROWS[i].kind, x, top, 0.5);
        review_use(d, INK);
        review_text(d, x + 12, y, 0, ROWS[i].words);
        cairo_text_extents(d->cr, ROWS[i].words, &extents);
        x += extents.x_advance + 40;
    }
    review_use(d, GREY);
    review_text(d, x, y, 0, "the thin line: quicker above, slower below");
}
