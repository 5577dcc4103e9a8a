/* The marks of a scene drawn with cairo, their words with pango. */
#include "undersong/draw.h"

#include "draw_signs.h"
#include "picture_file.h"

#include <math.h>
#include <pango/pangocairo.h>
#include <string.h>

static void set_ink(cairo_t *cr, enum us_theme theme, enum us_ink ink)
{
    uint32_t c = us_theme_colour(theme, ink);
    cairo_set_source_rgb(cr, (c >> 16 & 255) / 255.0, (c >> 8 & 255) / 255.0, (c & 255) / 255.0);
}

static void box_path(cairo_t *cr, const struct us_mark *m)
{
    double x = (double)m->x, y = (double)m->y, w = (double)m->w, h = (double)m->h, r = (double)m->radius;
    if (r <= 0) {
        cairo_rectangle(cr, x, y, w, h);
        return;
    }
    cairo_new_sub_path(cr);
    cairo_arc(cr, x + w - r, y + r, r, -M_PI / 2, 0);
    cairo_arc(cr, x + w - r, y + h - r, r, 0, M_PI / 2);
    cairo_arc(cr, x + r, y + h - r, r, M_PI / 2, M_PI);
    cairo_arc(cr, x + r, y + r, r, M_PI, 1.5 * M_PI);
    cairo_close_path(cr);
}

static void oval_path(cairo_t *cr, const struct us_mark *m)
{
    cairo_save(cr);
    cairo_translate(cr, (double)(m->x + m->w / 2), (double)(m->y + m->h / 2));
    cairo_scale(cr, (double)m->w / 2, (double)m->h / 2);
    cairo_new_sub_path(cr);
    cairo_arc(cr, 0, 0, 1, 0, 2 * M_PI);
    cairo_restore(cr);
}

/* Strokes from lower left to upper right inside the path, and a frame. */
static void hatch(cairo_t *cr, const struct us_mark *m)
{
    double step = fmax(4, (double)m->w * 0.32), line = step * 0.45;
    cairo_save(cr);
    cairo_clip_preserve(cr);
    cairo_new_path(cr);
    for (double at = (double)(m->x - m->h); at < (double)(m->x + m->w); at += step) {
        cairo_move_to(cr, at, (double)(m->y + m->h));
        cairo_line_to(cr, at + (double)m->h, (double)m->y);
    }
    cairo_set_line_width(cr, line);
    cairo_stroke(cr);
    cairo_restore(cr);
    box_path(cr, m);
    cairo_set_line_width(cr, line);
    cairo_stroke(cr);
}

static void paint(cairo_t *cr, const struct us_mark *m)
{
    if (m->fill == US_FILL_SOLID) {
        cairo_fill(cr);
    } else if (m->fill == US_FILL_HATCHED) {
        hatch(cr, m);
    } else {
        cairo_set_line_width(cr, fmax(1, (double)m->size));
        cairo_stroke(cr);
    }
}

static void draw_text(cairo_t *cr, PangoLayout *layout, PangoFontDescription *font, const struct us_mark *m,
                      const char *text)
{
    pango_font_description_set_weight(font, m->bold ? PANGO_WEIGHT_BOLD : PANGO_WEIGHT_NORMAL);
    pango_font_description_set_absolute_size(font, (double)m->size * PANGO_SCALE);
    pango_layout_set_font_description(layout, font);
    pango_layout_set_text(layout, text, -1);
    int wide, tall;
    pango_layout_get_pixel_size(layout, &wide, &tall);
    double x = (double)m->x, slack = (double)m->w - wide;
    if (m->align == US_TEXT_MIDDLE) x += slack / 2;
    if (m->align == US_TEXT_RIGHT) x += slack;
    cairo_move_to(cr, x, (double)m->y + ((double)m->h - tall) / 2);
    pango_cairo_show_layout(cr, layout);
}

void us_draw_scene(cairo_t *cr, const struct us_scene *scene, enum us_theme theme)
{
    PangoLayout *layout = pango_cairo_create_layout(cr);
    PangoFontDescription *font = pango_font_description_new();
    pango_font_description_set_family_static(font, "DejaVu Sans, Noto Sans, sans-serif");
    for (int i = 0; i < scene->marks; i++) {
        const struct us_mark *m = &scene->mark[i];
        set_ink(cr, theme, (enum us_ink)m->ink);
        cairo_new_path(cr);
        switch (m->kind) {
        case US_MARK_BOX:
            box_path(cr, m);
            paint(cr, m);
            break;
        case US_MARK_OVAL:
            oval_path(cr, m);
            paint(cr, m);
            break;
        case US_MARK_LINE:
            cairo_move_to(cr, (double)m->x, (double)m->y);
            cairo_line_to(cr, (double)(m->x + m->w), (double)(m->y + m->h));
            cairo_set_line_width(cr, fmax(1, (double)m->size));
            cairo_stroke(cr);
            break;
        case US_MARK_TEXT: draw_text(cr, layout, font, m, scene->letters + m->text); break;
        default: draw_sign(cr, m); break;
        }
    }
    pango_font_description_free(font);
    g_object_unref(layout);
}

struct page {
    const struct us_scene *scene;
    enum us_theme theme;
};

static void draw_page(void *context, cairo_t *cr)
{
    const struct page *page = context;
    us_draw_scene(cr, page->scene, page->theme);
}

enum us_status us_draw_file(const char *path, const struct us_scene *scene, enum us_theme theme,
                            struct us_error *error)
{
    struct page page = {scene, theme};
    const char *dot = strrchr(path, '.');
    bool png = dot && strcmp(dot, ".png") == 0;
    if (!png && !(dot && strcmp(dot, ".svg") == 0))
        return us_error_set(error, US_STATUS_BAD_INPUT,
                            "%s: no such kind of picture; name it FILE.png or FILE.svg", path);
    return picture_save(path, png, scene->width, scene->height, 1, draw_page, &page, error);
}
