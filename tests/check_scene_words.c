/* What the stand says, and whether it can be read. */
#include "moment.h"
#include "support.h"
#include "undersong/review_picture.h"
#include "undersong/signs.h"

#include <cairo.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

static double luminance(uint32_t colour)
{
    double sum = 0, weight[] = {0.2126, 0.7152, 0.0722};
    for (int i = 0; i < 3; i++) {
        double c = (colour >> (16 - 8 * i) & 255) / 255.0;
        sum += weight[i] * (c <= 0.04045 ? c / 12.92 : pow((c + 0.055) / 1.055, 2.4));
    }
    return sum;
}

/* Web Content Accessibility Guidelines 2.1, success criterion 1.4.3: contrast of at least 4.5 to 1. */
START_TEST(scene_contrast)
{
    static const struct {
        enum us_ink ink, on;
    } ROWS[] = {
        {US_INK_TEXT, US_INK_PAPER},          {US_INK_SOFT, US_INK_PAPER},
        {US_INK_RIGHT, US_INK_PAPER},         {US_INK_LEFT, US_INK_PAPER},
        {US_INK_TEXT, US_INK_PANEL},          {US_INK_RIGHT, US_INK_PANEL},
        {US_INK_LEFT, US_INK_PANEL},          {US_INK_SECOND, US_INK_PAPER},
        {US_INK_SOFT, US_INK_PANEL},          {US_INK_RIGHT_KEY, US_INK_WHITE_KEY},
        {US_INK_LEFT_KEY, US_INK_WHITE_KEY},  {US_INK_SECOND_KEY, US_INK_WHITE_KEY},
        {US_INK_BLACK_KEY, US_INK_WHITE_KEY},
    };
    for (int theme = US_THEME_LIGHT; theme <= US_THEME_DARK; theme++)
        for (size_t i = 0; i < sizeof ROWS / sizeof *ROWS; i++) {
            double a = luminance(us_theme_colour((enum us_theme)theme, ROWS[i].ink));
            double b = luminance(us_theme_colour((enum us_theme)theme, ROWS[i].on));
            double contrast = (fmax(a, b) + 0.05) / (fmin(a, b) + 0.05);
            ck_assert_msg(contrast >= 4.5, "theme %d row %zu: %.2f", theme, i, contrast);
        }
}
END_TEST

/* "Bb" is written with the sign, and a title is left alone. */
START_TEST(scene_writes_flats)
{
    static struct us_scene scene;
    struct us_snapshot now = lesson_moment();
    struct us_scene_request r = size(1280, 720, 1);
    now.waiting = false;
    now.knows_tune = true;
    strcpy(now.title, "Ebb tide");
    us_scene_build(&now, &r, &scene);
    bool chord = false, key = false, title = false;
    for (int i = 0; i < scene.marks; i++) {
        const char *text = scene.letters + scene.mark[i].text;
        if (scene.mark[i].kind != US_MARK_TEXT) continue;
        chord = chord || strcmp(text, "B\xE2\x99\xAD\x37") == 0;
        key = key || strcmp(text, "E\xE2\x99\xAD major") == 0;
        title = title || strcmp(text, "Ebb tide") == 0;
    }
    ck_assert(chord);
    ck_assert(key);
    ck_assert(title);
}
END_TEST

/* F and F sharp that are held together in C are two steps, on the keys as in the panel. */
START_TEST(scene_tells_raised_steps_apart)
{
    static struct us_scene scene;
    struct us_snapshot now = {.key = {0, US_MODE_MAJOR}, .melody = -1, .chord.root = US_NO_CHORD};
    struct us_scene_request r = size(1280, 720, 1);
    int fourth = 0, raised = 0, lowered = 0;
    now.melody_down[65 >> 3] |= 1 << (65 & 7);
    now.melody_down[66 >> 3] |= 1 << (66 & 7);
    now.melody_down[70 >> 3] |= 1 << (70 & 7);
    us_scene_build(&now, &r, &scene);
    for (int i = 0; i < scene.marks; i++) {
        const char *text = scene.letters + scene.mark[i].text;
        if (scene.mark[i].kind != US_MARK_TEXT || scene.mark[i].ink != US_INK_RIGHT) continue;
        fourth += strcmp(text, "4") == 0;
        raised += strcmp(text, "\xE2\x99\xAF\x34") == 0;
        lowered += strcmp(text, "\xE2\x99\xAD\x37") == 0;
    }
    ck_assert_int_eq(fourth, 1);
    ck_assert_int_eq(raised, 1);
    ck_assert_int_eq(lowered, 1);
}
END_TEST

/* What a letter so high subtends, in minutes of arc. */
static double minutes(double high_mm, double away_mm)
{
    return 2 * atan(high_mm / 2 / away_mm) * 180 / acos(-1) * 60;
}

/* To be read from six metres, in full screen.  Chord and step subtend 16 minutes of arc on a 24-inch screen,
   the least for reading at work (ISO 9241-303, from memory); all other words 5 minutes there, the letters
   that a healthy eye tells apart (6/6 as in ISO 8596, from memory), and 16 minutes on a wall picture 1.2 m
   high. Letters on keys are left out: which key it is can be seen.  The body of a letter is asked for, so a
   capital is 0.73 of it (DejaVu Sans). */
START_TEST(scene_is_read_from_six_metres)
{
    static struct us_scene scene;
    static const double CAPITAL = 0.73, AWAY_MM = 6000, SCREEN_MM = 299, WALL_MM = 1200;
    const struct us_snapshot moments[] = {lesson_moment(), practice_moment()};
    for (int s = 0; s < 4; s++) {
        struct us_scene_request r = s % 2 ? size(1920, 1080, 1) : size(1280, 720, 1);
        us_scene_build(&moments[s / 2], &r, &scene);
        double large[2] = {0, 0}, small = 1;
        for (int i = 0; i < scene.marks; i++) {
            const struct us_mark *m = &scene.mark[i];
            double part = (double)m->size * CAPITAL / r.height;
            if (m->kind != US_MARK_TEXT) continue;
            if (m->ink == US_INK_LEFT) large[0] = fmax(large[0], part);
            if (m->ink == US_INK_RIGHT) large[1] = fmax(large[1], part);
            bool on_a_key = m->y > (float)r.height * 0.76f;
            if (!on_a_key) small = fmin(small, part);
        }
        for (int i = 0; i < 2; i++)
            ck_assert_double_ge(minutes(large[i] * SCREEN_MM, AWAY_MM), 16);
        ck_assert_double_ge(minutes(small * SCREEN_MM, AWAY_MM), 5);
        ck_assert_double_ge(minutes(small * WALL_MM, AWAY_MM), 16);
    }
}
END_TEST

/* What is practised and how it goes stands above the hands; nothing of it without a task. */
START_TEST(scene_tells_what_is_practised)
{
    static struct us_scene scene;
    static char text[65536];
    struct us_snapshot plain = lesson_moment(), loop = practice_moment(), drill = plain, share = plain,
                       round = plain, shift = plain;
    drill.drill_asked = (struct us_key){2, US_MODE_MAJOR};
    drill.drill_next = (struct us_key){10, US_MODE_MAJOR};
    drill.drill_news = US_DRILL_AGAIN;
    share.share_level = 66;
    share.verdict = (struct us_verdict){.fit = US_FIT_YES, .expected = {10, US_CHORD_DOM7}};
    struct us_snapshot listens = plain;
    listens.second_voice = round.second_voice = US_SECOND_ROUND;
    round.round_state = US_ROUND_ENTERS;
    round.round_bars = 4;
    shift.sound_shift = -3;
    const struct {
        const struct us_snapshot *now;
        const char *task, *result;
    } ROWS[] = {
        {&loop, "\"phrase 2: bars 5 to 8\"", "\"time 3: 2 slips; once more, slowly\""},
        {&drill, "\"the tune in D major, then in B\xE2\x99\xAD major\"",
         "\"that was another key: once more\""},
        {&share, "\"the left hand is shared with you\"", "\"your left hand: B\xE2\x99\xAD\x37 fits\""},
        {&listens, "\"a round: the second voice listens for where to come in\"", NULL},
        {&round, "\"a round: the second voice comes 4 bars after you\"", NULL},
        {&shift, "\"you hear it 3 half steps lower than you play\"", NULL},
    };
    struct us_scene_request r = size(1280, 720, 1);
    us_scene_build(&plain, &r, &scene);
    int marks = scene.marks;
    for (size_t i = 0; i < sizeof ROWS / sizeof *ROWS; i++) {
        us_scene_build(ROWS[i].now, &r, &scene);
        us_scene_dump(&scene, text, sizeof text);
        ck_assert_msg(strstr(text, ROWS[i].task) != NULL, "row %zu: %s", i, text);
        if (ROWS[i].result) ck_assert_msg(strstr(text, ROWS[i].result) != NULL, "row %zu: %s", i, text);
        ck_assert_int_eq(scene.marks, marks + (ROWS[i].result ? 2 : 1));
    }
}
END_TEST

/* The count: as many numbers as the bar has beats, the one that is felt now with a line below it. */
START_TEST(scene_counts_the_bar)
{
    static struct us_scene scene;
    struct us_snapshot now = lesson_moment();
    struct us_scene_request r = size(1280, 720, 1);
    now.metre = (struct us_metre){3, 4};
    now.bar_quarters = 1;
    us_scene_build(&now, &r, &scene);
    float before = 0;
    int numbers = 0;
    for (int i = 0; i < scene.marks; i++) {
        const struct us_mark *m = &scene.mark[i];
        const char *text = scene.letters + m->text;
        if (m->kind != US_MARK_TEXT || m->y > 60 || text[1] || text[0] < '1' || text[0] > '9') continue;
        ck_assert_int_eq(text[0], '1' + numbers++);
        ck_assert_float_gt(m->x, before);
        ck_assert_int_eq(m->bold, text[0] == '2');
        ck_assert_int_eq(scene.mark[i + 1].kind == US_MARK_LINE, text[0] == '2');
        before = m->x;
    }
    ck_assert_int_eq(numbers, 3);
}
END_TEST

/* The same chord with its seventh is no other chord. */
START_TEST(scene_names_other_chords_only)
{
    static struct us_scene scene;
    static char text[65536];
    struct us_snapshot now = lesson_moment();
    struct us_scene_request r = size(1280, 720, 1);
    now.alternative[0] = (struct us_chord){10, US_CHORD_MAJ};
    us_scene_build(&now, &r, &scene);
    us_scene_dump(&scene, text, sizeof text);
    ck_assert_ptr_nonnull(strstr(text, "\"or I (E\xE2\x99\xAD)\""));
}
END_TEST

/* One bar once through, with this advice, drawn as the window draws it. */
static void draw_review(const char *title, const char *advice, unsigned char *pixels, int wide, int high)
{
    struct us_review_bar bar = {.number = 1, .len = 4, .times = 1, .notes = 4, .wrong = 1};
    struct us_review_cell cell = {.notes = 4, .wrong = 1, .tempo = 80};
    struct us_take take = {.key = {7, US_MODE_MAJOR}, .notes = 4, .right = 3, .tempo = 80};
    struct us_review review = {.key = {7, US_MODE_MAJOR},
                               .metre = {4, 4},
                               .takes = &take,
                               .take_count = 1,
                               .bars = &bar,
                               .bar_count = 1,
                               .cells = &cell};
    snprintf(review.title, sizeof review.title, "%s", title);
    snprintf(review.advice.text, sizeof review.advice.text, "%s", advice);
    ck_assert_double_le(us_review_height(&review) * wide, high);
    cairo_surface_t *surface =
        cairo_image_surface_create_for_data(pixels, CAIRO_FORMAT_RGB24, wide, high, 4 * wide);
    cairo_t *cr = cairo_create(surface);
    us_review_draw(&review, cr, wide, false);
    cairo_destroy(cr);
    cairo_surface_destroy(surface);
}

/* The window has the advice above the picture: the picture does not say it again. */
START_TEST(the_review_says_its_advice_once)
{
    enum { WIDE = 550, HIGH = 200 };
    static unsigned char silent[4 * WIDE * HIGH], advised[4 * WIDE * HIGH], empty[4 * WIDE * HIGH];
    draw_review("", "", silent, WIDE, HIGH);
    draw_review("", "Play bar 1 alone, slowly, a few times.", advised, WIDE, HIGH);
    ck_assert(memcmp(silent, empty, sizeof empty) != 0);
    ck_assert(memcmp(silent, advised, sizeof advised) == 0);
}
END_TEST

/* A long title is small rather than cut off at the edge. */
START_TEST(the_review_has_room_for_its_title)
{
    enum { WIDE = 550, HIGH = 200, EDGE = 4, LINE = 30 };
    static unsigned char pixels[4 * WIDE * HIGH];
    char title[160];
    memset(title, 'M', sizeof title - 1);
    title[sizeof title - 1] = 0;
    draw_review(title, "", pixels, WIDE, HIGH);
    for (int y = 0; y < LINE; y++)
        for (int x = 4 * (WIDE - EDGE); x < 4 * WIDE; x++)
            ck_assert_msg(pixels[4 * WIDE * y + x] >= 250 || x % 4 == 3, "%d, %d", x / 4, y);
}
END_TEST

/* No note, however high or low, lies over a chord's name or the panels above; what is written octaves nearer
   to the staff says so. */
START_TEST(scene_notes_have_their_room)
{
    static const struct {
        int first, second;
        const char *sign;
    } ROWS[] = {{55, 60, NULL},  {52, 72, NULL}, {86, 86, NULL}, {88, 72, "8"}, {96, 60, "15"},
                {108, 60, "22"}, {50, 60, "8"},  {52, 86, "8"},  {33, 33, "15"}};
    static struct us_scene scene;
    for (size_t row = 0; row < sizeof ROWS / sizeof *ROWS; row++) {
        struct us_snapshot now = lesson_moment();
        struct us_scene_request r = size(1280, 720, 1);
        const struct us_mark *name = NULL;
        bool sign = false;
        us_page_clear(&now.page);
        now.metre = (struct us_metre){4, 4};
        now.key = (struct us_key){0, US_MODE_MAJOR};
        us_page_note_on(&now.page, 0, ROWS[row].first, false);
        us_page_note_on(&now.page, 1, ROWS[row].second, false);
        us_page_chord(&now.page, 0, (struct us_chord){0, US_CHORD_MAJ});
        us_scene_build(&now, &r, &scene);
        float top = 0.46f * (float)r.height - 0.02f * (float)r.height;
        for (int i = 0; i < scene.marks; i++) {
            const struct us_mark *m = &scene.mark[i];
            if (m->kind != US_MARK_TEXT || m->y < top) continue;
            const char *words = scene.letters + m->text;
            if (strcmp(words, "I") == 0) name = m;
            if (m->ink == US_INK_RIGHT && ROWS[row].sign) sign = sign || strcmp(words, ROWS[row].sign) == 0;
        }
        ck_assert_ptr_nonnull(name);
        ck_assert_msg(sign == (ROWS[row].sign != NULL), "row %zu", row);
        int heads = 0;
        for (int i = 0; i < scene.marks; i++) {
            const struct us_mark *m = &scene.mark[i];
            if (m->kind != US_MARK_OVAL) continue;
            heads++;
            ck_assert_msg(m->y >= top && m->y + m->h <= name->y + name->h / 2 - 0.37f * name->size,
                          "row %zu: %.0f to %.0f", row, (double)m->y, (double)(m->y + m->h));
        }
        ck_assert_int_eq(heads, 2);
    }
}
END_TEST

/* Names of notes, keys and chords among other words; what is no such name stays as it is. */
START_TEST(signs_are_written)
{
    static const char *const ROWS[][2] = {
        {"You played 65 notes, in Eb major.", "You played 65 notes, in E\xE2\x99\xAD major."},
        {"Bbm, F#m7 or bVI", "B\xE2\x99\xADm, F\xE2\x99\xAFm7 or \xE2\x99\xADVI"},
        {"Ab", "A\xE2\x99\xAD"},
        {"b7 played where #4 belongs", "\xE2\x99\xAD\x37 played where \xE2\x99\xAF\x34 belongs"},
        {"viio", "vii\xC2\xB0"},
        {"or iio (Adim)", "or ii\xC2\xB0 (Adim)"},
        {"V/V, #ivo, V7/biio", "V/V, \xE2\x99\xAFiv\xC2\xB0, V7/\xE2\x99\xAD\x69i\xC2\xB0"},
        {"vo", "v\xC2\xB0"},
        {"Come io vo, Trio, violin, two", "Come io vo, Trio, violin, two"},
        {"Play bar 10, about twice; Abby, Web", "Play bar 10, about twice; Abby, Web"},
        {"", ""}};
    char out[120];
    for (size_t i = 0; i < sizeof ROWS / sizeof *ROWS; i++)
        ck_assert_str_eq(us_write_signs(ROWS[i][0], out, sizeof out), ROWS[i][1]);
    ck_assert_str_eq(us_write_signs("Eb major", out, 5), "E"); /* a sign is never cut */
    for (size_t size = 4; size < 12; size++)                   /* nor is a letter of UTF-8 */
        ck_assert_uint_eq(strlen(us_write_signs("\xC3\xA4\xC3\xA4\xC3\xA4\xC3\xA4", out, size)) % 2, 0);
    static const struct {
        const char *text;
        size_t size;
        const char *cut;
    } CUTS[] = {{"Lied", 5, "Lied"},           {"Lied", 4, "Lie"},  {"L\xC3\xBC", 3, "L"},
                {"L\xC3\xBC", 4, "L\xC3\xBC"}, {"\xC3\xBC", 1, ""}, {NULL, 4, ""}};
    for (size_t i = 0; i < sizeof CUTS / sizeof *CUTS; i++)
        ck_assert_str_eq(us_cut_text(CUTS[i].text, out, CUTS[i].size), CUTS[i].cut);
}
END_TEST

int main(void)
{
    const TTest *const TESTS[] = {scene_notes_have_their_room,
                                  signs_are_written,
                                  the_review_says_its_advice_once,
                                  the_review_has_room_for_its_title,
                                  scene_contrast,
                                  scene_writes_flats,
                                  scene_tells_raised_steps_apart,
                                  scene_is_read_from_six_metres,
                                  scene_tells_what_is_practised,
                                  scene_counts_the_bar,
                                  scene_names_other_chords_only};
    return RUN_TESTS("scene words", TESTS);
}
