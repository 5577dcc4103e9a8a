/* A scene in words. */
#include "undersong/scene.h"

#include <stdio.h>

size_t us_scene_dump(const struct us_scene *scene, char *out, size_t size)
{
    static const char *const KINDS[] = {"box", "oval", "line", "text", "clef", "sharp", "flat", "natural"};
    static const char *const INKS[US_INKS] = {"paper",     "text",      "soft",     "right",
                                              "left",      "second",    "panel",    "white-key",
                                              "black-key", "right-key", "left-key", "second-key"};
    static const char *const FILLS[] = {"none", "solid", "hatched"};
    size_t used = 0;
    for (int i = 0; i < scene->marks; i++) {
        const struct us_mark *m = &scene->mark[i];
        size_t left = used < size ? size - used : 0;
        int wrote;
        if (m->kind == US_MARK_TEXT)
            wrote = snprintf(left ? out + used : NULL, left, "text %s %.0f,%.0f %.0fx%.0f size %.1f \"%s\"\n",
                             INKS[m->ink], (double)m->x, (double)m->y, (double)m->w, (double)m->h,
                             (double)m->size, scene->letters + m->text);
        else
            wrote = snprintf(left ? out + used : NULL, left, "%s %s %s %.0f,%.0f %.0fx%.0f\n", KINDS[m->kind],
                             INKS[m->ink], FILLS[m->fill], (double)m->x, (double)m->y, (double)m->w,
                             (double)m->h);
        if (wrote > 0) used += (size_t)wrote;
    }
    return used;
}
