/* What a frame costs at 1920x1080 in software: building the scene and drawing it. */
#include "bench_time.h"

#include <stdio.h>
#include <stdlib.h>

#include <cairo.h>

#include "undersong/draw.h"

enum { FRAMES = 400 };

static struct us_snapshot full_page(int frame)
{
    struct us_snapshot s = {.key = {3, US_MODE_MAJOR},
                            .metre = {3, 4},
                            .bar = 11,
                            .chord = {10, US_CHORD_DOM7},
                            .melody = (int16_t)(70 + frame % 12),
                            .left_hand_on = true,
                            .alternatives = 2};
    s.alternative[0] = (struct us_chord){8, US_CHORD_MAJ};
    s.alternative_probability[0] = 0.4;
    for (int pitch = 46; pitch < 56; pitch += 4)
        s.left_down[pitch >> 3] |= (uint8_t)(1 << (pitch & 7));
    s.melody_down[s.melody >> 3] |= (uint8_t)(1 << (s.melody & 7));
    for (int i = 0; i < US_PAGE_NOTES; i++)
        us_page_note_on(&s.page, 25 + i * 0.25, 63 + (i * 7 + frame) % 19, false);
    for (int i = 0; i < 12; i++)
        us_page_chord(&s.page, 25 + i * 1.5, (struct us_chord){(int8_t)(i % 12), US_CHORD_MAJ});
    return s;
}

int main(void)
{
    static struct us_scene scene;
    static double took_ms[FRAMES];
    struct us_scene_request request = {.width = 1920, .height = 1080, .text_scale = 1, .show_ahead = true};
    cairo_surface_t *surface = cairo_image_surface_create(CAIRO_FORMAT_RGB24, 1920, 1080);
    for (int i = -20; i < FRAMES; i++) { /* the first ones load fonts */
        struct us_snapshot now = full_page(i + 20);
        double began_ms = bench_us(CLOCK_THREAD_CPUTIME_ID) / 1e3;
        us_scene_build(&now, &request, &scene);
        cairo_t *cr = cairo_create(surface);
        us_draw_scene(cr, &scene, i % 2 ? US_THEME_LIGHT : US_THEME_DARK);
        cairo_destroy(cr);
        if (i >= 0) took_ms[i] = bench_us(CLOCK_THREAD_CPUTIME_ID) / 1e3 - began_ms;
    }
    bench_sort(took_ms, FRAMES);
    printf("a frame at 1920x1080, %d marks: median %.2f ms, 99 %% %.2f ms\n", scene.marks,
           took_ms[FRAMES / 2], took_ms[FRAMES * 99 / 100]);
    cairo_surface_destroy(surface);
    return 0;
}
