/* Moments of a lesson, for the tests of what the stand shows. */
#ifndef MOMENT_H
#define MOMENT_H

#include <string.h>

#include "undersong/scene.h"

static inline struct us_snapshot lesson_moment(void)
{
    struct us_snapshot s = {.key = {3, US_MODE_MAJOR},
                            .key_sure = 0.9,
                            .metre = {6, 8},
                            .bar = 11,
                            .bar_quarters = 1.5,
                            .quarter_ns = 5e8,
                            .chord = {10, US_CHORD_DOM7},
                            .melody = 78,
                            .left_hand_on = true,
                            .waiting = true,
                            .share_level = 100,
                            .drill_asked = {US_NO_KEY, 0},
                            .alternatives = 2};
    s.alternative[0] = (struct us_chord){8, US_CHORD_MAJ};
    s.alternative[1] = (struct us_chord){3, US_CHORD_MAJ};
    s.alternative_probability[0] = 0.4;
    s.alternative_probability[1] = 0.1;
    s.melody_down[78 >> 3] |= 1 << (78 & 7);
    s.left_down[46 >> 3] |= 1 << (46 & 7);
    s.left_down[50 >> 3] |= 1 << (50 & 7);
    s.second_down[75 >> 3] |= 1 << (75 & 7);
    for (int i = 0; i < 24; i++)
        us_page_note_on(&s.page, i * 0.5 + 25, 63 + i % 12, false);
    for (int i = 0; i < 8; i++)
        us_page_chord(&s.page, 25 + i * 1.5, (struct us_chord){(int8_t)(i % 12), US_CHORD_DOM7});
    us_page_note_ahead(&s.page, 37.5, 0.5, 67);
    us_page_chord_ahead(&s.page, 37.5, (struct us_chord){3, US_CHORD_MAJ});
    return s;
}

/* A moment with a phrase, which has a line of its own. */
static inline struct us_snapshot practice_moment(void)
{
    struct us_snapshot s = lesson_moment();
    s.loop.part = (struct us_loop_part){
        .first = 4, .last = 9, .from = 2, .to = 2, .phrases = 4, .from_bar = 5, .to_bar = 8};
    s.loop.times = 3;
    s.loop.wrong = 2;
    return s;
}

/* Nothing was played yet. */
static inline struct us_snapshot empty_moment(void)
{
    return (struct us_snapshot){.key = {US_NO_KEY, 0},
                                .chord = {US_NO_CHORD, 0},
                                .melody = -1,
                                .left_hand_on = true,
                                .share_level = 100,
                                .drill_asked = {US_NO_KEY, 0}};
}

static inline struct us_scene_request size(int width, int height, double text_scale)
{
    return (struct us_scene_request){
        .width = width, .height = height, .text_scale = text_scale, .show_ahead = true};
}

#endif
