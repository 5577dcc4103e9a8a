#include "moment.h"
#include "support.h"

#include <math.h>
#include <pango/pangocairo.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "undersong/draw.h"

static bool overlap(const struct us_mark *a, const struct us_mark *b)
{
    return a->x + 0.5f < b->x + b->w && b->x + 0.5f < a->x + a->w && a->y + 0.5f < b->y + b->h &&
           b->y + 0.5f < a->y + a->h;
}

static const struct {
    int width, height;
    double scale;
} SIZES[] = {
    {1280, 720, 1}, {1920, 1080, 1}, {1280, 720, 2},  {1920, 1080, 2},
    {800, 600, 1},  {640, 480, 2},   {3840, 2160, 1},
};

START_TEST(scene_texts_keep_apart)
{
    static struct us_scene scene;
    const struct us_snapshot moments[] = {lesson_moment(), practice_moment()};
    for (size_t i = 0; i < 2 * (sizeof SIZES / sizeof *SIZES); i++) {
        struct us_scene_request r = size(SIZES[i / 2].width, SIZES[i / 2].height, SIZES[i / 2].scale);
        us_scene_build(&moments[i % 2], &r, &scene);
        int texts = 0;
        for (int a = 0; a < scene.marks; a++) {
            const struct us_mark *m = &scene.mark[a];
            if (m->kind != US_MARK_TEXT) continue;
            texts++;
            ck_assert(m->x >= -0.5f && m->x + m->w <= (float)r.width + 0.5f);
            ck_assert(m->y >= -0.5f && m->y + m->h <= (float)r.height + 0.5f);
            for (int b = a + 1; b < scene.marks; b++)
                if (scene.mark[b].kind == US_MARK_TEXT)
                    ck_assert_msg(!overlap(m, &scene.mark[b]), "%s / %s at %dx%d", scene.letters + m->text,
                                  scene.letters + scene.mark[b].text, r.width, r.height);
        }
        ck_assert_int_ge(texts, 12);
    }
}
END_TEST

/* What the scene believes of the width of letters holds for the font that draws them. */
START_TEST(scene_texts_fit_as_drawn)
{
    static struct us_scene scene;
    struct us_snapshot now = lesson_moment();
    struct us_scene_request r = size(1280, 720, 2);
    now.waiting = false;
    now.knows_tune = true;
    strcpy(now.title, "MORNING WOMEN WHO MOWED MEADOWS BY THE MOOR");
    us_scene_build(&now, &r, &scene);
    cairo_surface_t *surface = cairo_image_surface_create(CAIRO_FORMAT_RGB24, 8, 8);
    cairo_t *cr = cairo_create(surface);
    PangoLayout *layout = pango_cairo_create_layout(cr);
    for (int i = 0; i < scene.marks; i++) {
        const struct us_mark *m = &scene.mark[i];
        if (m->kind != US_MARK_TEXT) continue;
        PangoFontDescription *font =
            pango_font_description_from_string(m->bold ? "DejaVu Sans Bold" : "DejaVu Sans");
        pango_font_description_set_absolute_size(font, (double)m->size * PANGO_SCALE);
        pango_layout_set_font_description(layout, font);
        pango_layout_set_text(layout, scene.letters + m->text, -1);
        pango_font_description_free(font);
        int wide, tall;
        pango_layout_get_pixel_size(layout, &wide, &tall);
        ck_assert_msg(wide <= (int)ceilf(m->w) + 1, "%s: %d in %.0f", scene.letters + m->text, wide,
                      (double)m->w);
    }
    g_object_unref(layout);
    cairo_destroy(cr);
    cairo_surface_destroy(surface);
}
END_TEST

START_TEST(scene_is_repeatable)
{
    static struct us_scene a, b;
    static char one[65536], two[65536];
    struct us_snapshot now = lesson_moment();
    struct us_scene_request r = size(1280, 720, 1);
    us_scene_build(&now, &r, &a);
    us_scene_build(&now, &r, &b);
    ck_assert_uint_lt(us_scene_dump(&a, one, sizeof one), sizeof one);
    us_scene_dump(&b, two, sizeof two);
    ck_assert_str_eq(one, two);
    ck_assert_ptr_nonnull(strstr(one, "\"E\xE2\x99\xAD major\""));
    ck_assert_ptr_nonnull(strstr(one, "\"V7\""));
    ck_assert_ptr_nonnull(strstr(one, "\"waiting for you\""));
    ck_assert_ptr_nonnull(strstr(one, "\"or IV (A\xE2\x99\xAD), or I (E\xE2\x99\xAD)\""));
}
END_TEST

/* The hands differ by fill, not by colour alone. */
START_TEST(scene_hands_differ_in_form)
{
    static struct us_scene scene;
    struct us_snapshot now = lesson_moment();
    struct us_scene_request r = size(1280, 720, 1);
    us_scene_build(&now, &r, &scene);
    int solid = 0, hatched = 0, framed = 0;
    for (int i = 0; i < scene.marks; i++) {
        const struct us_mark *m = &scene.mark[i];
        if (m->kind != US_MARK_BOX) continue;
        solid += m->ink == US_INK_RIGHT_KEY && m->fill == US_FILL_SOLID;
        hatched += m->ink == US_INK_LEFT_KEY && m->fill == US_FILL_HATCHED;
        framed += m->ink == US_INK_SECOND_KEY && m->fill == US_FILL_NONE;
    }
    ck_assert_int_eq(solid, 1);
    ck_assert_int_eq(hatched, 2);
    ck_assert_int_eq(framed, 1);
}
END_TEST

/* A point on each key of five octaves; the keys that are drawn as pressed are found where they are drawn. */
START_TEST(scene_key_under_the_finger)
{
    static const struct {
        enum us_ink ink;
        int pitches[2];
    } PRESSED[] = {{US_INK_RIGHT_KEY, {78}}, {US_INK_LEFT_KEY, {46, 50}}, {US_INK_SECOND_KEY, {75}}};
    static struct us_scene scene;
    struct us_snapshot now = lesson_moment();
    struct us_scene_request r = size(1280, 720, 1);
    int seen[US_PITCHES] = {0}, found = 0;
    us_scene_build(&now, &r, &scene);
    for (int i = 0; i < scene.marks; i++) {
        const struct us_mark *m = &scene.mark[i];
        int pitch = us_scene_key_at(&r, (double)(m->x + m->w / 2), (double)(m->y + m->h / 2));
        for (size_t k = 0; m->kind == US_MARK_BOX && k < sizeof PRESSED / sizeof *PRESSED; k++) {
            if (m->ink != PRESSED[k].ink) continue;
            ck_assert(pitch == PRESSED[k].pitches[0] || pitch == PRESSED[k].pitches[1]);
            found++;
        }
    }
    ck_assert_int_eq(found, 4);
    for (int y = 0; y < 720; y += 3)
        for (int x = 0; x < 1280; x += 3) {
            int pitch = us_scene_key_at(&r, x, y);
            if (pitch >= 0) seen[pitch]++;
        }
    for (int pitch = 36; pitch <= 96; pitch++)
        ck_assert_msg(seen[pitch] > 10, "%d", pitch);
    ck_assert_int_eq(us_scene_key_at(&r, 640, 100), -1);
}
END_TEST

/* Nothing to show yet is a picture too. */
START_TEST(scene_of_an_empty_moment)
{
    static struct us_scene scene;
    struct us_snapshot now = empty_moment();
    struct us_scene_request r = size(640, 480, 1);
    us_scene_build(&now, &r, &scene);
    static char text[65536];
    us_scene_dump(&scene, text, sizeof text);
    ck_assert_ptr_nonnull(strstr(text, "Play a tune"));
}
END_TEST

START_TEST(scene_into_files)
{
    static struct us_scene scene;
    struct us_snapshot now = lesson_moment();
    struct us_scene_request r = size(640, 480, 1);
    struct us_error error;
    char path[64];
    us_scene_build(&now, &r, &scene);
    snprintf(path, sizeof path, "/tmp/scene-%d.png", (int)getpid());
    ck_assert_int_eq(us_draw_file(path, &scene, US_THEME_LIGHT, &error), US_STATUS_OK);
    cairo_surface_t *read = cairo_image_surface_create_from_png(path);
    ck_assert_int_eq(cairo_image_surface_get_width(read), 640);
    cairo_surface_destroy(read);
    remove(path);
    ck_assert_int_eq(us_draw_file("x.bmp", &scene, US_THEME_LIGHT, &error), US_STATUS_BAD_INPUT);
    ck_assert_int_eq(us_draw_file("/no/such/x.png", &scene, US_THEME_LIGHT, &error), US_STATUS_IO);
}
END_TEST

/* The treble clef curls round G4; the signature of E flat is B, E and A flat; F sharp in it needs a sign
   (common practice, no source). */
START_TEST(scene_writes_the_key)
{
    static struct us_scene scene;
    struct us_snapshot now = lesson_moment();
    struct us_scene_request r = size(1280, 720, 1);
    float clef = -1, flat[3];
    int signs = 0;
    us_page_clear(&now.page);
    us_page_note_on(&now.page, 25, 67, false);
    us_page_note_on(&now.page, 26, 70, false);
    us_page_note_on(&now.page, 27, 78, false);
    us_page_note_on(&now.page, 28, 71, false);
    us_scene_build(&now, &r, &scene);
    float head[4];
    int heads = 0;
    for (int i = 0; i < scene.marks; i++) {
        const struct us_mark *m = &scene.mark[i];
        if (m->kind == US_MARK_CLEF) clef = m->y;
        bool sign = m->kind == US_MARK_SHARP || m->kind == US_MARK_FLAT || m->kind == US_MARK_NATURAL;
        if (m->kind == US_MARK_FLAT && signs < 3) flat[signs] = m->y;
        signs += sign;
        if (m->kind == US_MARK_OVAL && heads < 4) head[heads++] = m->y + m->h / 2;
    }
    ck_assert_int_eq(heads, 4);
    float place = (head[0] - head[1]) / 2; /* G4 to B4 are two places on the staff */
    ck_assert_float_eq_tol(clef, head[0], 0.1f);
    ck_assert_float_eq_tol(flat[0], head[1], 0.1f);             /* B4 */
    ck_assert_float_eq_tol(flat[1], head[1] - 3 * place, 0.1f); /* E5 */
    ck_assert_float_eq_tol(flat[2], head[1] + place, 0.1f);     /* A4 */
    ck_assert_int_eq(signs, 3 + 2); /* ... and those of F sharp and B natural, however they are spelled */
}
END_TEST

/* A note's head, played or still to come. */
static int heads_of(const struct us_scene *scene, const struct us_mark *out[US_SCENE_MARKS])
{
    int count = 0;
    for (int i = 0; i < scene->marks; i++)
        if (scene->mark[i].kind == US_MARK_OVAL) out[count++] = &scene->mark[i];
    return count;
}

/* Heads of notes that were struck one after the other do not touch, not even where they were felt at one
   place or come thick and fast; the last one is always seen. */
START_TEST(scene_notes_keep_apart)
{
    static const struct {
        double gap;
        int step;
    } ROWS[] = {{0, 1}, {0.02, 2}, {0.125, 1}, {0.25, 1}, {0.25, 5}, {0.5, 1}, {-0.1, 1}, {1, 3}};
    static struct us_scene scene;
    static const struct us_mark *head[US_SCENE_MARKS];
    for (size_t row = 0; row < sizeof ROWS / sizeof *ROWS; row++) {
        struct us_snapshot now = lesson_moment();
        struct us_scene_request r = size(1280, 720, 1);
        int notes = ROWS[row].gap > 0.1 ? 40 : 5;
        us_page_clear(&now.page);
        now.metre = (struct us_metre){4, 4};
        for (int i = 0; i < notes; i++)
            us_page_note_on(&now.page, 20 + i * ROWS[row].gap, 64 + i * ROWS[row].step % 17, false);
        us_scene_build(&now, &r, &scene);
        int heads = heads_of(&scene, head);
        ck_assert_msg(heads >= 5, "row %zu: %d", row, heads);
        for (int a = 0; a < heads; a++)
            for (int b = a + 1; b < heads; b++)
                ck_assert_msg(!overlap(head[a], head[b]), "row %zu: %d on %d", row, b, a);
    }
}
END_TEST

/* The chord that goes on from before what is seen stands at the left again, once; not where it ends at once.
 */
START_TEST(scene_says_a_chord_again)
{
    static const struct {
        double change;
        int seen;
    } ROWS[] = {{40, 2}, {30, 2}, {27.1, 1}};
    static struct us_scene scene;
    static char text[65536];
    for (size_t row = 0; row < sizeof ROWS / sizeof *ROWS; row++) {
        struct us_snapshot now = lesson_moment();
        struct us_scene_request r = size(1280, 720, 1);
        int numerals = 0;
        float left = 1e6f, bar_line = 1e6f;
        us_page_clear(&now.page);
        now.metre = (struct us_metre){4, 4};
        us_page_note_on(&now.page, 38, 67, false);
        us_page_chord(&now.page, 4, (struct us_chord){3, US_CHORD_MAJ});
        us_page_chord(&now.page, ROWS[row].change, (struct us_chord){10, US_CHORD_MAJ});
        now.page.here = 39;
        us_scene_build(&now, &r, &scene);
        for (int i = 0; i < scene.marks; i++) {
            const struct us_mark *m = &scene.mark[i];
            bool upright = m->kind == US_MARK_LINE && m->ink == US_INK_SOFT && !(m->w > 0);
            if (upright) bar_line = fminf(bar_line, m->x);
            if (m->kind != US_MARK_TEXT || m->ink != US_INK_LEFT || m->y < 300 || m->h > 50) continue;
            const char *words = scene.letters + m->text;
            if (strcmp(words, "I") && strcmp(words, "V")) continue;
            numerals++;
            left = fminf(left, m->x);
        }
        us_scene_dump(&scene, text, sizeof text);
        ck_assert_msg(numerals == ROWS[row].seen, "row %zu: %d\n%.300s", row, numerals, text);
        ck_assert_msg(left <= bar_line, "row %zu: at %g, the first bar line at %g", row, (double)left,
                      (double)bar_line);
    }
}
END_TEST

/* A note on a bar line stands right of it, also where bars have come to be counted from another place. */
START_TEST(scene_bar_lines_follow_the_bars)
{
    static struct us_scene scene;
    for (int line = 0; line < 4; line++) {
        struct us_snapshot now = lesson_moment();
        struct us_scene_request r = size(1280, 720, 1);
        float head = 0, bar_line = 0;
        us_page_clear(&now.page);
        now.metre = (struct us_metre){4, 4};
        us_page_note_on(&now.page, 36 + line, 67, false);
        now.page.here = 36.5f + (float)line;
        now.page.line = (float)line;
        us_scene_build(&now, &r, &scene);
        for (int i = 0; i < scene.marks; i++)
            if (scene.mark[i].kind == US_MARK_OVAL) head = scene.mark[i].x;
        for (int i = 0; i < scene.marks; i++) {
            const struct us_mark *m = &scene.mark[i];
            bool upright = m->kind == US_MARK_LINE && m->ink == US_INK_SOFT && !(m->w > 0);
            if (upright && m->x <= head) bar_line = fmaxf(bar_line, m->x);
        }
        ck_assert_msg(head > 0 && head - bar_line < 10, "line %d: head %g, bar line %g", line, (double)head,
                      (double)bar_line);
    }
}
END_TEST

/* A tune that was named and not played yet: its name, key and metre, and how it begins, as if pencilled in.
 */
START_TEST(scene_of_a_tune_that_waits)
{
    static struct us_scene scene;
    static char text[65536];
    static const struct us_mark *head[US_SCENE_MARKS];
    struct us_snapshot now = empty_moment();
    struct us_scene_request r = size(1280, 720, 1);
    now.tune_waits = true;
    now.tune_key = (struct us_key){2, US_MODE_MAJOR};
    now.tune_metre = (struct us_metre){3, 4};
    strcpy(now.title, "A Tune");
    us_page_note_ahead(&now.page, -1, 1, 69);
    us_page_note_ahead(&now.page, 0, 2, 74);
    us_page_chord_ahead(&now.page, 0, (struct us_chord){2, US_CHORD_MAJ});
    us_scene_build(&now, &r, &scene);
    us_scene_dump(&scene, text, sizeof text);
    static const char *const WORDS[] = {"\"A Tune\"", "\"D major\"", "\"pickup, 3/4\"",
                                        "\"play this tune, in any key\"", "\"I\""};
    for (size_t i = 0; i < sizeof WORDS / sizeof *WORDS; i++)
        ck_assert_msg(strstr(text, WORDS[i]) != NULL, "%s", WORDS[i]);
    ck_assert_int_eq(heads_of(&scene, head), 2);
    ck_assert_int_eq(head[0]->ink, US_INK_SOFT);
}
END_TEST

/* A grip of two voices stands one above the other, a second side by side. */
START_TEST(scene_writes_grips)
{
    static struct us_scene scene;
    static const struct us_mark *head[US_SCENE_MARKS];
    struct us_snapshot now = lesson_moment();
    struct us_scene_request r = size(1280, 720, 1);
    us_page_clear(&now.page);
    us_page_note_on(&now.page, 24, 67, true); /* the first one on a page has nothing to be held with */
    ck_assert(!now.page.note[0].with);
    us_page_clear(&now.page);
    us_page_note_on(&now.page, 25, 67, false);
    us_page_note_on(&now.page, 25.01, 63, true);
    us_page_note_on(&now.page, 27, 67, false);
    us_page_note_on(&now.page, 27, 65, true);
    us_scene_build(&now, &r, &scene);
    ck_assert_int_eq(heads_of(&scene, head), 4);
    ck_assert_float_eq(head[0]->x, head[1]->x);
    ck_assert_float_gt(head[3]->x, head[2]->x);
    ck_assert(!overlap(head[2], head[3]));
}
END_TEST

/* However long one has played: what comes next in a known tune has room on the page. */
START_TEST(scene_looks_ahead_after_many_notes)
{
    static struct us_scene scene;
    static const struct us_mark *head[US_SCENE_MARKS];
    struct us_snapshot now = lesson_moment();
    struct us_scene_request r = size(1280, 720, 1);
    us_page_clear(&now.page);
    for (int i = 0; i < 200; i++) {
        us_page_note_on(&now.page, i * 0.5, 63 + i % 12, false);
        us_page_chord(&now.page, i * 0.5, (struct us_chord){(int8_t)(i % 12), US_CHORD_MAJ});
    }
    for (int i = 0; i < 12; i++)
        us_page_note_ahead(&now.page, 100 + i * 0.5, 0.5, 67);
    us_page_chord_ahead(&now.page, 100, (struct us_chord){3, US_CHORD_MAJ});
    us_scene_build(&now, &r, &scene);
    int heads = heads_of(&scene, head), ahead = 0;
    for (int i = 0; i < heads; i++)
        if (head[i]->ink == US_INK_SOFT) {
            ck_assert_float_lt(head[i]->h, head[0]->h * 0.8f); /* not told by colour alone */
            ahead++;
        }
    ck_assert_int_ge(ahead, 6);
    ck_assert_int_ge(heads - ahead, 6);
    ck_assert(now.page.chord[now.page.chords - 1].ahead);
    ck_assert(!now.page.chord[now.page.chords - 2].ahead);
}
END_TEST

/* Whole pictures are more than Check can print: the first line that differs is enough. */
static void expect_same_lines(const char *text, const char *kept, const char *path)
{
    for (int line = 1; *text || *kept; line++) {
        size_t got = strcspn(text, "\n"), wanted = strcspn(kept, "\n");
        ck_assert_msg(got == wanted && strncmp(text, kept, got) == 0, "%s:%d: %.*s, not %.*s", path, line,
                      (int)wanted, kept, (int)got, text);
        text += got + (text[got] == '\n');
        kept += wanted + (kept[wanted] == '\n');
    }
}

/* Against tests/golden/scene-*.txt; with UNDERSONG_GOLDEN=write they are made anew, to be looked at before
   they are kept. */
START_TEST(scene_golden)
{
    static struct us_scene scene;
    static char text[US_SCENE_MARKS * 64], kept[US_SCENE_MARKS * 64];
    const struct us_snapshot lesson = lesson_moment(), practice = practice_moment(), empty = empty_moment();
    const struct {
        const char *name;
        const struct us_snapshot *moment;
        int width, height;
        double scale;
    } GOLDEN[] = {{"lesson-1280", &lesson, 1280, 720, 1},
                  {"lesson-1920", &lesson, 1920, 1080, 1},
                  {"lesson-800-large", &lesson, 800, 600, 2},
                  {"empty-1280", &empty, 1280, 720, 1},
                  {"practice-1280", &practice, 1280, 720, 1}};
    for (size_t i = 0; i < sizeof GOLDEN / sizeof *GOLDEN; i++) {
        char path[400];
        struct us_scene_request r = size(GOLDEN[i].width, GOLDEN[i].height, GOLDEN[i].scale);
        us_scene_build(GOLDEN[i].moment, &r, &scene);
        size_t length = us_scene_dump(&scene, text, sizeof text);
        ck_assert_uint_lt(length, sizeof text);
        snprintf(path, sizeof path, "%s/golden/scene-%s.txt", TEST_SOURCE_DIR, GOLDEN[i].name);
        bool write = getenv("UNDERSONG_GOLDEN") != NULL;
        FILE *f = fopen(path, write ? "w" : "r");
        ck_assert_msg(f != NULL, "%s", path);
        if (write)
            fwrite(text, 1, length, f);
        else
            kept[fread(kept, 1, sizeof kept - 1, f)] = 0;
        fclose(f);
        if (!write) expect_same_lines(text, kept, path);
    }
}
END_TEST

int main(void)
{
    const TTest *const TESTS[] = {scene_texts_keep_apart,
                                  scene_texts_fit_as_drawn,
                                  scene_is_repeatable,
                                  scene_hands_differ_in_form,
                                  scene_key_under_the_finger,
                                  scene_of_an_empty_moment,
                                  scene_into_files,
                                  scene_writes_the_key,
                                  scene_notes_keep_apart,
                                  scene_bar_lines_follow_the_bars,
                                  scene_says_a_chord_again,
                                  scene_of_a_tune_that_waits,
                                  scene_writes_grips,
                                  scene_looks_ahead_after_many_notes,
                                  scene_golden};
    return RUN_TESTS("scene", TESTS);
}
