#include "picture_file.h"

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

enum us_status picture_save(const char *path, bool png, int width, int height, int fine,
                            void (*draw)(void *context, cairo_t *cr), void *context, struct us_error *error)
{
    struct bytes bytes = {0};
    cairo_surface_t *surface =
        png ? cairo_image_surface_create(CAIRO_FORMAT_RGB24, width * fine, height * fine)
            : cairo_svg_surface_create_for_stream(collect, &bytes, width, height);
    cairo_t *cr = cairo_create(surface);
    if (png) cairo_scale(cr, fine, fine);
    draw(context, cr);
    cairo_status_t status = cairo_status(cr);
    cairo_destroy(cr);
    if (!status && png) status = cairo_surface_write_to_png_stream(surface, collect, &bytes);
    cairo_surface_finish(surface);
    if (!status) status = cairo_surface_status(surface);
    cairo_surface_destroy(surface);
    enum us_status saved = status ? us_error_set(error, US_STATUS_IO, "%s: cannot be drawn: %s", path,
                                                 cairo_status_to_string(status))
                                  : us_file_save(path, bytes.data, bytes.size, 0666, error);
    free(bytes.data);
    return saved;
}
