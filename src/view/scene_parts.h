/* The parts of a scene, each in its own file, and the little things they share. */
#ifndef VIEW_SCENE_PARTS_H
#define VIEW_SCENE_PARTS_H

#include "undersong/scene.h"

struct area {
    float x, y, w, h;
};

/* All a part needs: what to show, where, and where to put its marks. */
struct stage {
    const struct us_snapshot *now;
    const struct us_scene_request *request;
    struct us_scene *scene;
};

struct us_mark *stage_mark(struct stage *s, enum us_mark_kind kind, enum us_ink ink, struct area a);
/* Text inside an area, as large as `size` times the text scale and no larger than fits in one line. */
void stage_text(struct stage *s, struct area a, enum us_ink ink, enum us_text_align align, bool bold,
                float size, const char *text);
/* The same for names of notes, keys and chords: # and b become the signs of music. */
void stage_names(struct stage *s, struct area a, enum us_ink ink, enum us_text_align align, bool bold,
                 float size, const char *text);
void stage_line(struct stage *s, float x1, float y1, float x2, float y2, enum us_ink ink, float width);
struct area area_inset(struct area a, float by);

void scene_header(struct stage *s, struct area a);
/* What is being practised and how it goes, in one line; only where there is something to tell. */
bool scene_has_practice(const struct us_snapshot *now);
void scene_practice(struct stage *s, struct area a);
void scene_chord(struct stage *s, struct area a);
void scene_step(struct stage *s, struct area a);
void scene_page(struct stage *s, struct area a);
void scene_keyboard(struct stage *s, struct area a);
struct area keyboard_area(const struct us_scene_request *request);

#endif
