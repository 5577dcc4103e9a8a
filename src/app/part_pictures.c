#include "parts.h"

#include "undersong/draw.h"

enum us_status us_draw_file(const char *path, const struct us_scene *scene, enum us_theme theme,
                            struct us_error *error)
{
    __typeof__(&us_draw_file) draw = PART_FUNCTION("pictures", us_draw_file, error);
    return draw ? draw(path, scene, theme, error) : US_STATUS_NO_DEVICE;
}
