/* Pen and signs of the review's picture, in points. */
#ifndef VIEW_REVIEW_DRAWING_H
#define VIEW_REVIEW_DRAWING_H

#include "undersong/review_picture.h"

#include <cairo.h>

enum {
    WIDTH = 1100,
    MARGIN = 40,
    LABEL = 128,
    TEMPO_ROOM = 64,
    HEAD = 104,
    LANE = 44,
    GAP = 10,
    SUMS = 92,
    FOOT = 40,
    ADVICE = 76
};
enum colour { INK, GREY, LINE, PAPER, PLAYED, WRONG, WAIT, MISSED, BACK, COLOURS };

struct drawing {
    const struct us_review *review;
    cairo_t *cr;
    double quarters; /* length of the page */
    size_t first_take, lanes;
    bool dark;
    bool alone; /* a file: nothing around it says what to practise */
};

/* The colours of a light or a dark page. */
void review_use(const struct drawing *d, enum colour colour);
void review_font(const struct drawing *d, double size, bool bold);
/* `align` 0 left, 0.5 middle, 1 right. */
void review_text(const struct drawing *d, double x, double y, double align, const char *words);
void review_box(const struct drawing *d, double x, double y, double width, double height);
/* One mark in a lane whose upper edge is `top`; `seconds` for a wait. */
void review_mark(const struct drawing *d, enum us_review_mark_kind kind, double x, double top,
                 double seconds);
/* What each mark means, in one line. */
void review_legend(const struct drawing *d, double y);

#endif
