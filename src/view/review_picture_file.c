#include "review_drawing.h"
#include "undersong/file_save.h"

#include <cairo-svg.h>
#include <stdlib.h>
#include <string.h>

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

static cairo_status_t render(struct drawing *d, bool png, struct bytes *bytes)
{
    enum { FINE = 2 }; /* pixels a point */
    double height = review_points_high(d);
    cairo_surface_t *surface =
        png ? cairo_image_surface_create(CAIRO_FORMAT_RGB24, WIDTH * FINE, (int)height * FINE)
            : cairo_svg_surface_create_for_stream(collect, bytes, WIDTH, height);
    d->cr = cairo_create(surface);
    if (png) cairo_scale(d->cr, FINE, FINE);
    review_page(d);
    cairo_status_t status = cairo_status(d->cr);
    cairo_destroy(d->cr);
    if (!status && png) status = cairo_surface_write_to_png_stream(surface, collect, bytes);
    cairo_surface_finish(surface);
    if (!status) status = cairo_surface_status(surface);
    cairo_surface_destroy(surface);
    return status;
}

enum us_status us_review_picture(const struct us_review *review, const char *path, bool png,
                                 struct us_error *error)
{
    struct drawing d;
    if (!review_begin(&d, review))
        return us_error_set(
            error, US_STATUS_BAD_INPUT,
            "no time through a known tune to draw; name the tune that was played with --tune FILE");
    struct bytes bytes = {0};
    cairo_status_t status = render(&d, png, &bytes);
    enum us_status saved = status ? us_error_set(error, US_STATUS_IO, "%s: cannot be drawn: %s", path,
                                                 cairo_status_to_string(status))
                                  : us_file_save(path, bytes.data, bytes.size, 0666, error);
    free(bytes.data);
    return saved;
}
