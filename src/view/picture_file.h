/* A picture into a file. */
#ifndef VIEW_PICTURE_FILE_H
#define VIEW_PICTURE_FILE_H

#include "undersong/status.h"

#include <cairo.h>
#include <stdbool.h>

/* Draws in memory and then writes the file, whole or not at all: PNG with `fine` pixels a unit, or SVG. */
enum us_status picture_save(const char *path, bool png, int width, int height, int fine,
                            void (*draw)(void *context, cairo_t *cr), void *context,
                            struct us_error *error) US_WARN_UNUSED;

#endif
