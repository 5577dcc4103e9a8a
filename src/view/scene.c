/* The scene as a whole: which part gets which room, and how parts put down their marks. */
#include "scene_parts.h"
#include "undersong/signs.h"

#include <string.h>

/* How the height is shared out: header, chord and step, page, keyboard.  A line about what is being practised
   takes half of its part from chord and step, half from the page. */
static const float HEADER = 0.12f, PRACTICE = 0.06f, PANELS = 0.34f, PAGE = 0.30f;

struct us_mark *stage_mark(struct stage *s, enum us_mark_kind kind, enum us_ink ink, struct area a)
{
    static struct us_mark spare; /* never read: what does not fit is left out */
    struct us_scene *scene = s->scene;
    struct us_mark *m = scene->marks < US_SCENE_MARKS ? &scene->mark[scene->marks++] : &spare;
    *m = (struct us_mark){.kind = (uint8_t)kind,
                          .ink = (uint8_t)ink,
                          .fill = US_FILL_SOLID,
                          .x = a.x,
                          .y = a.y,
                          .w = a.w,
                          .h = a.h};
    return m;
}

/* In parts of the size: the signs of music, the letters of eastern Asia, which fill a square, capitals. */
static float letter_wide(const char *letter)
{
    unsigned char first = (unsigned char)*letter;
    if (strchr(" ilI.", first)) return 0.40f;
    if (strncmp(letter, "\xE2\x99", 2) == 0) return 0.55f;
    if (first >= 0xE3) return 1.04f;
    return first >= 'A' && first <= 'Z' && first != 'V' ? 0.81f : 0.68f;
}

/* A careful estimate of how wide a text is, in parts of its size; the drawing's own measure is never wider
   for the fonts that are asked for (tests/check_scene.c). */
static float letters_wide(const char *text, bool bold)
{
    float wide = 0;
    for (const char *c = text; *c; c++)
        if ((*c & 0xC0) != 0x80) wide += letter_wide(c);
    return bold ? wide * 1.06f : wide;
}

void stage_text(struct stage *s, struct area a, enum us_ink ink, enum us_text_align align, bool bold,
                float size, const char *text)
{
    struct us_scene *scene = s->scene;
    size_t length = strlen(text) + 1;
    if (length == 1 || scene->letters_used + length > US_SCENE_LETTERS) return;
    float scaled = size * (float)s->request->text_scale;
    float wide = letters_wide(text, bold);
    if (scaled > a.h / 1.25f) scaled = a.h / 1.25f;
    if (wide * scaled > a.w) scaled = a.w / wide;
    struct us_mark *m = stage_mark(s, US_MARK_TEXT, ink, a);
    m->align = (uint8_t)align;
    m->bold = bold;
    m->size = scaled;
    m->text = scene->letters_used;
    memcpy(scene->letters + scene->letters_used, text, length);
    scene->letters_used = (uint16_t)(scene->letters_used + length);
}

void stage_names(struct stage *s, struct area a, enum us_ink ink, enum us_text_align align, bool bold,
                 float size, const char *text)
{
    char out[120];
    stage_text(s, a, ink, align, bold, size, us_write_signs(text, out, sizeof out));
}

void stage_line(struct stage *s, float x1, float y1, float x2, float y2, enum us_ink ink, float width)
{
    stage_mark(s, US_MARK_LINE, ink, (struct area){x1, y1, x2 - x1, y2 - y1})->size = width;
}

struct area area_inset(struct area a, float by)
{
    return (struct area){a.x + by, a.y + by, a.w - 2 * by, a.h - 2 * by};
}

static float margin_of(const struct us_scene_request *r)
{
    return 0.02f * (float)(r->width < r->height ? r->width : r->height);
}

struct area keyboard_area(const struct us_scene_request *r)
{
    float margin = margin_of(r), top = (float)r->height * (HEADER + PANELS + PAGE);
    return (struct area){margin, top, (float)r->width - 2 * margin, (float)r->height - top - margin};
}

/* A tune that waits for its player is shown in its own key and metre. */
static const struct us_snapshot *as_written(const struct us_snapshot *now, struct us_snapshot *out)
{
    *out = *now;
    out->key = now->tune_key;
    out->metre = now->tune_metre;
    out->bar = now->page.notes && now->page.note[0].at < 0 ? -1 : 0;
    return out;
}

void us_scene_build(const struct us_snapshot *now, const struct us_scene_request *request,
                    struct us_scene *out)
{
    struct us_snapshot begins;
    out->width = request->width;
    out->height = request->height;
    out->marks = out->letters_used = 0;
    if (now->tune_waits) now = as_written(now, &begins);
    struct stage s = {now, request, out};
    float w = (float)request->width, h = (float)request->height, m = margin_of(request);
    stage_mark(&s, US_MARK_BOX, US_INK_PAPER, (struct area){0, 0, w, h});
    scene_header(&s, (struct area){m, m * 0.5f, w - 2 * m, h * HEADER - m * 0.5f});
    float panel = (w - 3 * m) / 2, top = h * HEADER, strip = scene_has_practice(now) ? h * PRACTICE : 0;
    if (strip > 0) scene_practice(&s, (struct area){m, top, w - 2 * m, strip});
    top += strip;
    float tall = h * PANELS - strip / 2;
    scene_chord(&s, (struct area){m, top, panel, tall - m});
    scene_step(&s, (struct area){2 * m + panel, top, panel, tall - m});
    scene_page(&s, (struct area){m, top + tall, w - 2 * m, h * PAGE - strip / 2 - m});
    scene_keyboard(&s, keyboard_area(request));
}

uint32_t us_theme_colour(enum us_theme theme, enum us_ink ink)
{
    static const uint32_t COLOURS[2][US_INKS] = {
        {0xFAF6EC, 0x1D2230, 0x565B68, 0x0A5C58, 0x84245A, 0x5A4A00, 0xEFE8D8, 0xFFFFFF, 0x2B2E38, 0x0A5C58,
         0x84245A, 0x5A4A00},
        {0x12161D, 0xF3EFE6, 0xB2B8C4, 0x6BD6CB, 0xF5A8C9, 0xE5D27A, 0x1E2530, 0xE9E6DE, 0x05070A, 0x0A5C58,
         0x84245A, 0x5A4A00},
    };
    return COLOURS[theme][ink];
}
