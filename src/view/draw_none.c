/* A build without cairo and pango. */
#include "undersong/draw.h"
#include "undersong/review_picture.h"

static enum us_status missing(const char *path, struct us_error *error)
{
    return us_error_set(error, US_STATUS_BAD_INPUT,
                        "%.200s: this build has no pictures (made without cairo or pango)", path);
}

enum us_status us_draw_file(const char *path, const struct us_scene *scene, enum us_theme theme,
                            struct us_error *error)
{
    (void)scene, (void)theme;
    return missing(path, error);
}

enum us_status us_review_picture(const struct us_review *review, const char *path, bool png,
                                 struct us_error *error)
{
    (void)review, (void)png;
    return missing(path, error);
}
