/* Signs of written music, as far as the stand's staff needs them. */
#ifndef VIEW_DRAW_SIGNS_H
#define VIEW_DRAW_SIGNS_H

#include <cairo.h>

#include "undersong/scene.h"

/* US_MARK_CLEF to US_MARK_NATURAL, in the present colour. */
void draw_sign(cairo_t *cr, const struct us_mark *m);

#endif
