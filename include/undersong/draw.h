/* Drawing a scene with cairo and pango: on a window's surface, into PNG and SVG files. */
#ifndef UNDERSONG_DRAW_H
#define UNDERSONG_DRAW_H

#include "undersong/scene.h"
#include "undersong/status.h"

/* Draws at the origin of a cairo context (cairo_t), one pixel a unit. */
struct _cairo;
void us_draw_scene(struct _cairo *cr, const struct us_scene *scene, enum us_theme theme);
/* Writes FILE.png or FILE.svg, by its ending.  US_STATUS_BAD_INPUT for another ending, US_STATUS_IO. */
enum us_status us_draw_file(const char *path, const struct us_scene *scene, enum us_theme theme,
                            struct us_error *error) US_WARN_UNUSED;

#endif
