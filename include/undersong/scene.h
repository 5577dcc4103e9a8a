/* What the stand shows, as plain marks on a page: made from a snapshot, drawn by anything.  Pure: no clock,
   no allocation; the same snapshot gives the same scene. */
#ifndef UNDERSONG_SCENE_H
#define UNDERSONG_SCENE_H

#include "undersong/companion.h"

enum us_mark_kind {
    US_MARK_BOX,
    US_MARK_OVAL,
    US_MARK_LINE,
    US_MARK_TEXT,
    US_MARK_CLEF, /* a treble clef; this and the next three stand at (x, y) on a staff whose space is `size`
                   */
    US_MARK_SHARP,
    US_MARK_FLAT,
    US_MARK_NATURAL
};

/* Inks by their part; the theme says which colour that is. */
enum us_ink {
    US_INK_PAPER,
    US_INK_TEXT,
    US_INK_SOFT,   /* less important text, staff lines */
    US_INK_RIGHT,  /* the player's right hand */
    US_INK_LEFT,   /* the left hand */
    US_INK_SECOND, /* the second voice */
    US_INK_PANEL,
    US_INK_WHITE_KEY,
    US_INK_BLACK_KEY,
    US_INK_RIGHT_KEY, /* the hands on the white of the keys, in either theme */
    US_INK_LEFT_KEY,
    US_INK_SECOND_KEY,
    US_INKS
};
enum us_fill { US_FILL_NONE, US_FILL_SOLID, US_FILL_HATCHED };
enum us_text_align { US_TEXT_LEFT, US_TEXT_MIDDLE, US_TEXT_RIGHT };

/* Pixels from the left upper corner.  A line goes from (x, y) to (x + w, y + h). */
struct us_mark {
    uint8_t kind, ink, fill, align;
    bool bold;
    float x, y, w, h;
    float size;    /* text: height of the letters' body; line: width */
    float radius;  /* box: of its corners */
    uint16_t text; /* where the text begins in `letters` */
};

enum { US_SCENE_MARKS = 1200, US_SCENE_LETTERS = 8192 };
struct us_scene {
    int width, height;
    struct us_mark mark[US_SCENE_MARKS];
    uint16_t marks;
    char letters[US_SCENE_LETTERS];
    uint16_t letters_used;
};

struct us_scene_request {
    int width, height; /* pixels, at least 320 by 240 */
    double text_scale; /* 1 normal, up to 3 */
    enum us_syllables syllables;
    int lowest, highest; /* the keyboard's range in pitches; 0, 0: five octaves */
    bool show_ahead;     /* what comes next in a known tune */
};

/* Lays out what the stand shows of `now` on a surface as `request` says.  Total: the same arguments give the
   same scene. */
void us_scene_build(const struct us_snapshot *now, const struct us_scene_request *request,
                    struct us_scene *out);
/* One line a mark, for tests and for eyes.  Writes at most `size` bytes, terminated; returns the bytes
 * needed. */
size_t us_scene_dump(const struct us_scene *scene, char *out, size_t size);
/* Which key of the drawn keyboard lies under a point, or -1. */
int us_scene_key_at(const struct us_scene_request *request, double x, double y);

enum us_theme { US_THEME_LIGHT, US_THEME_DARK };
/* The colour of an ink, 0xRRGGBB. */
uint32_t us_theme_colour(enum us_theme theme, enum us_ink ink);

#endif
