/* One hour of virtual playing as the window sees it: step, snapshot, scene, and a picture of every fourth;
   the memory in use must not grow after the first fifth, when the letters that are drawn have all been met.
   Prints TAP. */
#include <malloc.h>
#include <stdio.h>
#include <stdlib.h>

#include <cairo.h>

#include "undersong/draw.h"

enum { NOTES = 7200, DRAW_EVERY = 4 };
#define GAP_NS INT64_C(500000000)

static struct us_companion *companion;
static struct us_snapshot now;
static struct us_scene scene;
static struct us_actions actions;
static cairo_surface_t *surface;

static void step(int kind, int64_t at_ns, int pitch)
{
    struct us_event event = {.at_ns = at_ns, .kind = (uint8_t)kind, .pitch = (uint8_t)pitch, .velocity = 80};
    us_companion_step(companion, &event, &actions);
}

static void look(int note)
{
    struct us_scene_request request = {
        .width = 1280, .height = 720, .text_scale = 1 + note % 3 * 0.5, .show_ahead = true};
    us_companion_snapshot(companion, &now);
    us_scene_build(&now, &request, &scene);
    if (note % DRAW_EVERY) return;
    cairo_t *cr = cairo_create(surface);
    us_draw_scene(cr, &scene, note % 8 ? US_THEME_LIGHT : US_THEME_DARK);
    cairo_destroy(cr);
}

/* A tune of eight bars in a key that moves by a fourth each time round. */
static int pitch_of(int note)
{
    static const int STEPS[] = {0, 4, 7, 4, 5, 9, 7, 4, 2, 5, 4, 2, 0, -1, 0, 0};
    return 60 + STEPS[note % 16] + note / 64 * 5 % 12;
}

int main(void)
{
    struct us_companion_settings settings = {
        .chords = US_CHORDS_PRIMARY, .key = {US_NO_KEY, 0}, .pickup = -1, .share = 100};
    size_t early = 0;
    int most = 0;
    companion = malloc(us_companion_size());
    if (!companion) return 1;
    us_companion_init(companion, &settings);
    surface = cairo_image_surface_create(CAIRO_FORMAT_RGB24, 1280, 720);
    for (int note = 0; note < NOTES; note++) {
        int64_t at_ns = note * GAP_NS, due;
        while ((due = us_companion_due(companion)) < at_ns) {
            step(US_EVENT_TICK, due, 0);
            if (us_companion_due(companion) <= due) break;
        }
        step(US_EVENT_NOTE_ON, at_ns, pitch_of(note));
        look(note);
        step(US_EVENT_NOTE_OFF, at_ns + GAP_NS * 4 / 5, pitch_of(note));
        if (scene.marks > most) most = scene.marks;
        if (note == NOTES / 5) early = mallinfo2().uordblks;
    }
    size_t late = mallinfo2().uordblks;
    printf("1..2\n%sok 1 - in use after twelve minutes %zu kB, after an hour %zu kB\n",
           late < early + 256 * 1024 ? "" : "not ", early / 1024, late / 1024);
    printf("%sok 2 - at most %d of %d marks\n", most < US_SCENE_MARKS ? "" : "not ", most, US_SCENE_MARKS);
    cairo_surface_destroy(surface);
    free(companion);
    return 0;
}
