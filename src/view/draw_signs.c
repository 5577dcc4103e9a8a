/* Clef and accidentals, drawn with a broad pen.  Shapes of our own, in spaces of the staff, y upwards, from
   the line (or the middle of the space) that they stand on. */
#include "draw_signs.h"

#include <math.h>

enum { MOVE = 'm', LINE = 'l', CURVE = 'c', DOT = 'd' };

struct stroke {
    char kind;
    float pen; /* width; DOT: radius */
    float at[6];
};

static const struct stroke CLEF[] = {
    {MOVE, 0.17f, {0.30f, -0.52f}},
    {CURVE, 0.17f, {-0.42f, -0.50f, -0.55f, 0.55f, 0.18f, 0.66f}},
    {CURVE, 0.26f, {0.95f, 0.76f, 1.25f, -0.20f, 0.88f, -0.62f}},
    {CURVE, 0.22f, {0.42f, -1.22f, -1.22f, -1.20f, -1.16f, 0.22f}},
    {CURVE, 0.30f, {-1.10f, 1.45f, 0.72f, 2.10f, 0.80f, 3.50f}},
    {CURVE, 0.18f, {0.83f, 4.40f, 0.42f, 4.72f, 0.18f, 4.20f}},
    {CURVE, 0.15f, {-0.12f, 3.45f, 0.12f, 2.00f, 0.40f, -1.60f}},
    {CURVE, 0.15f, {0.46f, -2.40f, -0.40f, -2.70f, -0.62f, -2.10f}},
    {DOT, 0.26f, {-0.42f, -1.98f}},
};
static const struct stroke SHARP[] = {
    {MOVE, 0.11f, {-0.20f, -1.30f}}, {LINE, 0.11f, {-0.20f, 1.15f}},  {MOVE, 0.11f, {0.20f, -1.15f}},
    {LINE, 0.11f, {0.20f, 1.30f}},   {MOVE, 0.26f, {-0.46f, -0.52f}}, {LINE, 0.26f, {0.46f, -0.24f}},
    {MOVE, 0.26f, {-0.46f, 0.24f}},  {LINE, 0.26f, {0.46f, 0.52f}},
};
static const struct stroke FLAT[] = {
    {MOVE, 0.11f, {-0.30f, 1.70f}},
    {LINE, 0.11f, {-0.30f, -0.60f}},
    {CURVE, 0.20f, {0.20f, -0.35f, 0.48f, 0.05f, 0.42f, 0.32f}},
    {CURVE, 0.20f, {0.36f, 0.62f, -0.05f, 0.55f, -0.30f, 0.22f}},
};
static const struct stroke NATURAL[] = {
    {MOVE, 0.11f, {-0.24f, -0.62f}}, {LINE, 0.11f, {-0.24f, 1.30f}},  {MOVE, 0.11f, {0.24f, -1.30f}},
    {LINE, 0.11f, {0.24f, 0.62f}},   {MOVE, 0.24f, {-0.24f, -0.55f}}, {LINE, 0.24f, {0.24f, -0.36f}},
    {MOVE, 0.24f, {-0.24f, 0.36f}},  {LINE, 0.24f, {0.24f, 0.55f}},
};

#define SIGN(strokes)                                                                                        \
    {                                                                                                        \
        strokes, sizeof(strokes) / sizeof *(strokes)                                                         \
    }
static const struct {
    const struct stroke *stroke;
    size_t count;
} SIGNS[] = {SIGN(CLEF), SIGN(SHARP), SIGN(FLAT), SIGN(NATURAL)};

static void dot(cairo_t *cr, const struct stroke *s)
{
    cairo_new_path(cr);
    cairo_arc(cr, (double)s->at[0], (double)s->at[1], (double)s->pen, 0, 2 * M_PI);
    cairo_fill(cr);
}

void draw_sign(cairo_t *cr, const struct us_mark *m)
{
    int sign = m->kind - US_MARK_CLEF;
    double x = 0, y = 0;
    cairo_save(cr);
    cairo_translate(cr, (double)m->x, (double)m->y);
    cairo_scale(cr, (double)m->size, -(double)m->size);
    cairo_set_line_cap(cr, CAIRO_LINE_CAP_ROUND);
    for (size_t i = 0; i < SIGNS[sign].count; i++) {
        const struct stroke *s = &SIGNS[sign].stroke[i];
        const float *p = s->at;
        if (s->kind == DOT) {
            dot(cr, s);
            continue;
        }
        cairo_move_to(cr, x, y);
        if (s->kind == LINE) cairo_line_to(cr, (double)p[0], (double)p[1]);
        if (s->kind == CURVE)
            cairo_curve_to(cr, (double)p[0], (double)p[1], (double)p[2], (double)p[3], (double)p[4],
                           (double)p[5]);
        x = (double)p[s->kind == CURVE ? 4 : 0];
        y = (double)p[s->kind == CURVE ? 5 : 1];
        if (s->kind == MOVE) {
            cairo_new_path(cr);
            continue;
        }
        cairo_set_line_width(cr, (double)s->pen);
        cairo_stroke(cr);
    }
    cairo_restore(cr);
}
