/* A lesson for the tests: a player before a companion, and all that was heard. */
#ifndef LESSON_H
#define LESSON_H

#include "support.h"

#include <stdlib.h>
#include <string.h>

#include "undersong/companion.h"

enum { HEARD_MAX = 8192, QUARTER_MS = 600 };

struct heard {
    struct us_action list[HEARD_MAX];
    size_t count;
};

struct lesson {
    struct us_companion *companion;
    struct heard heard;
    int64_t now_ns;
};

/* Eight bars of 4/4, made up: as play_steps() takes it. */
static const int TUNE[] = {1, 1, 2, 3, 5, 5, 3, 1, 4, 4, 6, 4, 5, 4, 3,  2,
                           1, 1, 2, 3, 5, 5, 3, 1, 4, 6, 5, 4, 3, 2, -1, 0};

static inline struct us_companion_settings plain(const char *metre, double pickup)
{
    struct us_companion_settings s = {.texture = US_TEXTURE_BLOCK,
                                      .chords = US_CHORDS_PRIMARY,
                                      .key = {US_NO_KEY, 0},
                                      .pickup = pickup,
                                      .share = 100};
    if (metre) ck_assert(us_metre_parse(metre, &s.metre));
    return s;
}

static inline struct lesson *begin(const struct us_companion_settings *settings)
{
    struct lesson *l = calloc(1, sizeof *l);
    l->companion = malloc(us_companion_size());
    us_companion_init(l->companion, settings);
    return l;
}

static inline void end(struct lesson *l)
{
    free(l->companion);
    free(l);
}

static inline void send(struct lesson *l, struct us_event event)
{
    struct us_actions actions;
    us_companion_step(l->companion, &event, &actions);
    for (uint32_t i = 0; i < actions.count; i++) {
        ck_assert_uint_lt(l->heard.count, HEARD_MAX);
        l->heard.list[l->heard.count++] = actions.list[i];
    }
}

static inline void set_control(struct lesson *l, enum us_control control, int value)
{
    send(l, (struct us_event){
                .at_ns = l->now_ns, .kind = US_EVENT_CONTROL, .control = (uint8_t)control, .value = value});
}

/* Time goes on to `until_ns` with every tick that the companion asks for. */
static inline void wait_until(struct lesson *l, int64_t until_ns)
{
    for (int guard = 0; us_companion_due(l->companion) <= until_ns; guard++) {
        ck_assert_int_lt(guard, 10000);
        int64_t due = us_companion_due(l->companion);
        l->now_ns = due > l->now_ns ? due : l->now_ns;
        send(l, (struct us_event){.at_ns = l->now_ns, .kind = US_EVENT_TICK});
    }
    l->now_ns = until_ns;
}

static inline void play(struct lesson *l, int pitch, double quarters)
{
    int64_t start = l->now_ns;
    int64_t length = (int64_t)(quarters * QUARTER_MS * 1e6);
    send(l, (struct us_event){
                .at_ns = start, .kind = US_EVENT_NOTE_ON, .pitch = (uint8_t)pitch, .velocity = 70});
    wait_until(l, start + length * 9 / 10);
    send(l, (struct us_event){.at_ns = l->now_ns, .kind = US_EVENT_NOTE_OFF, .pitch = (uint8_t)pitch});
    wait_until(l, start + length - 1);
    l->now_ns = start + length;
}

/* A tune of quarters and halves: steps of the major scale above `home`, 0 ends; a negative step is a half
 * note. */
static inline void play_steps(struct lesson *l, int home, const int *steps)
{
    struct us_key c = {0, US_MODE_MAJOR};
    for (; *steps; steps++) {
        int step = abs(*steps);
        int pitch = home + us_mode_step_semitones((enum us_mode)c.mode, step) + 12 * ((step - 1) / 7);
        play(l, pitch, *steps < 0 ? 2 : 1);
    }
}

static inline void leave(struct lesson *l)
{
    wait_until(l, l->now_ns + 20000000000);
}

static inline size_t strikes_at(const struct lesson *l, int64_t at_ns, enum us_voice voice)
{
    size_t n = 0;
    for (size_t i = 0; i < l->heard.count; i++) {
        const struct us_action *a = &l->heard.list[i];
        n += a->kind == US_ACTION_NOTE_ON && a->voice == voice && a->at_ns == at_ns;
    }
    return n;
}

static inline size_t left_strikes_between(const struct lesson *l, int64_t from_ns, int64_t to_ns)
{
    size_t n = 0;
    for (size_t i = 0; i < l->heard.count; i++) {
        const struct us_action *a = &l->heard.list[i];
        n += a->kind == US_ACTION_NOTE_ON && a->voice == US_VOICE_LEFT && a->at_ns > from_ns &&
             a->at_ns < to_ns;
    }
    return n;
}

/* Each note-on has one note-off, and time never runs back. */
static inline void check_notes_end(const struct lesson *l)
{
    int down[US_VOICES][US_PITCHES] = {0};
    int64_t last = 0;
    for (size_t i = 0; i < l->heard.count; i++) {
        const struct us_action *a = &l->heard.list[i];
        ck_assert_int_ge(a->at_ns, last);
        last = a->at_ns;
        if (a->kind == US_ACTION_NOTE_ON) {
            ck_assert_int_eq(down[a->voice][a->pitch], 0);
            down[a->voice][a->pitch] = 1;
        } else if (a->kind == US_ACTION_NOTE_OFF) {
            ck_assert_int_eq(down[a->voice][a->pitch], 1);
            down[a->voice][a->pitch] = 0;
        }
    }
    for (int v = 0; v < US_VOICES; v++)
        for (int p = 0; p < US_PITCHES; p++)
            ck_assert_int_eq(down[v][p], 0);
}

/* The same, and the left hand is struck below the melody that sounds. */
static inline void check_order(const struct lesson *l)
{
    bool melody[US_PITCHES] = {false};
    check_notes_end(l);
    for (size_t i = 0; i < l->heard.count; i++) {
        const struct us_action *a = &l->heard.list[i];
        bool on = a->kind == US_ACTION_NOTE_ON, off = a->kind == US_ACTION_NOTE_OFF;
        if (a->voice == US_VOICE_MELODY && (on || off)) melody[a->pitch] = on;
        for (int p = 0; p <= a->pitch && a->voice == US_VOICE_LEFT && on; p++)
            ck_assert_msg(!melody[p], "left hand %d over %d", a->pitch, p);
    }
}

#endif
