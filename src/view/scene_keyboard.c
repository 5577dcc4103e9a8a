/* The keyboard: the right hand's keys solid with their step, the left hand's hatched with their letter, the
   second voice's with a frame.  Never by colour alone. */
#include "scene_parts.h"

#include <math.h>
#include <stdio.h>

enum { LOWEST = 36, HIGHEST = 96 };
static const float BLACK_WIDE = 0.62f, BLACK_LONG = 0.62f;

static bool is_black(int pitch)
{
    return 0x54A >> us_pitch_class(pitch) & 1;
}

static void range_of(const struct us_scene_request *r, int *low, int *high)
{
    *low = r->highest > r->lowest ? r->lowest : LOWEST;
    *high = r->highest > r->lowest ? r->highest : HIGHEST;
    while (is_black(*low))
        --*low;
    while (is_black(*high))
        ++*high;
}

static int whites_between(int low, int high)
{
    int count = 0;
    for (int pitch = low; pitch <= high; pitch++)
        count += !is_black(pitch);
    return count;
}

static struct area key_area(struct area a, int low, int high, int pitch)
{
    float wide = a.w / (float)whites_between(low, high);
    float x = a.x + wide * (float)whites_between(low, pitch - 1);
    if (!is_black(pitch)) return (struct area){x, a.y, wide, a.h};
    return (struct area){x - wide * BLACK_WIDE / 2, a.y, wide * BLACK_WIDE, a.h * BLACK_LONG};
}

static bool is_down(const uint8_t *down, int pitch)
{
    return down[pitch >> 3] >> (pitch & 7) & 1;
}

/* On a plate as wide as a white key, also where the key is black. */
static void label_key(struct stage *s, struct area key, int pitch, enum us_ink ink)
{
    char text[8];
    const struct us_snapshot *now = s->now;
    if (now->key.tonic == US_NO_KEY) return;
    struct us_step step = us_key_step(now->key, pitch);
    if (ink == US_INK_RIGHT)
        snprintf(text, sizeof text, "%s%d", step.alter > 0 ? "#" : step.alter < 0 ? "b" : "", step.number);
    else
        us_key_letter(now->key, pitch, text, sizeof text);
    float wide = is_black(pitch) ? key.w / BLACK_WIDE * 0.96f : key.w * 0.88f, tall = wide * 1.08f;
    struct area plate = {key.x + (key.w - wide) / 2, key.y + key.h - tall - key.w * 0.08f, wide, tall};
    stage_mark(s, US_MARK_BOX, US_INK_PAPER, plate)->radius = wide * 0.15f;
    stage_names(s, plate, ink, US_TEXT_MIDDLE, true, wide * 0.8f, text);
}

/* On whole pixels: sharp, and cheap to draw sixty times a frame. */
static void key_body(struct stage *s, struct area key, int pitch)
{
    float x = floorf(key.x + 0.5f), y = floorf(key.y + 0.5f);
    struct area body = {x, y, floorf(key.x + key.w + 0.5f) - x, floorf(key.y + key.h + 0.5f) - y};
    if (is_black(pitch)) {
        stage_mark(s, US_MARK_BOX, US_INK_BLACK_KEY, body);
        return;
    }
    /* What is left between them is black already. */
    stage_mark(s, US_MARK_BOX, US_INK_WHITE_KEY, (struct area){x + 1, y + 1, body.w - 1, body.h - 2});
}

static void draw_key(struct stage *s, struct area key, int pitch)
{
    const struct us_snapshot *now = s->now;
    bool right = is_down(now->melody_down, pitch), left = is_down(now->left_down, pitch);
    bool second = is_down(now->second_down, pitch);
    key_body(s, key, pitch);
    if (!right && !left && !second) return;
    struct area inside = area_inset(key, key.w * 0.10f);
    /* On a light ground, so that a black key's mark is seen as well as a white one's. */
    if (is_black(pitch)) stage_mark(s, US_MARK_BOX, US_INK_WHITE_KEY, area_inset(key, key.w * 0.05f));
    enum us_ink ink = right ? US_INK_RIGHT : left ? US_INK_LEFT : US_INK_SECOND;
    enum us_ink on_key = right ? US_INK_RIGHT_KEY : left ? US_INK_LEFT_KEY : US_INK_SECOND_KEY;
    struct us_mark *m = stage_mark(s, US_MARK_BOX, on_key, inside);
    m->fill = right ? US_FILL_SOLID : left ? US_FILL_HATCHED : US_FILL_NONE;
    m->size = key.w * 0.12f;
    m->radius = key.w * 0.10f;
    label_key(s, key, pitch, ink);
}

void scene_keyboard(struct stage *s, struct area a)
{
    int low, high;
    range_of(s->request, &low, &high);
    float left = floorf(a.x + 0.5f), top = floorf(a.y + 0.5f);
    stage_mark(s, US_MARK_BOX, US_INK_BLACK_KEY,
               (struct area){left, top, floorf(a.x + a.w + 0.5f) - left + 1, floorf(a.y + a.h + 0.5f) - top});
    for (int black = 0; black < 2; black++)
        for (int pitch = low; pitch <= high; pitch++)
            if (is_black(pitch) == (black == 1)) draw_key(s, key_area(a, low, high, pitch), pitch);
}

int us_scene_key_at(const struct us_scene_request *request, double x, double y)
{
    int low, high;
    range_of(request, &low, &high);
    struct area all = keyboard_area(request);
    for (int black = 1; black >= 0; black--)
        for (int pitch = low; pitch <= high; pitch++) {
            struct area k = key_area(all, low, high, pitch);
            bool inside =
                x >= (double)k.x && x < (double)(k.x + k.w) && y >= (double)k.y && y < (double)(k.y + k.h);
            if (is_black(pitch) == (black == 1) && inside) return pitch;
        }
    return -1;
}
