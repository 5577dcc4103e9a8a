#include "undersong/harmony_learn.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "lesson.h"

enum { WHOLE_EPOCHS = 50, LIVE_EPOCHS = 24, VARIED_IN = 100, BEGUN_IN = 3 };
static const float HYMN_WEIGHT = 2, WHOLE_MIX = 0.4f, LIVE_MIX = 0.7f;

struct school {
    const struct us_harmony_learn_options *options;
    struct us_harmony_tables *out;
    struct lesson *lessons;
    struct net_example *examples;
    size_t count;
    struct us_note *varied, *heard; /* room for the notes of any of the tunes */
    bool live;
};

static void fill_example(const struct school *s, const struct lesson *l, enum lesson_length length,
                         const struct us_note *notes, struct net_example *example)
{
    example->count = l->text[length].count;
    if (s->live)
        lesson_live_frames(l, notes, s->heard, s->out, example->frames);
    else
        lesson_text_frames(l, &l->text[length], notes, example->frames);
}

/* Every time it is gone through, a tune has other wrong notes, so that the networks learn to bear them; one
   time in a few it is heard as far as a learner writes it down. */
static void vary(void *user, size_t index, uint32_t *random, struct net_example *example)
{
    struct school *s = user;
    const struct us_tune *tune = s->lessons[index].from->tune;
    memcpy(s->varied, tune->notes, tune->note_count * sizeof *s->varied);
    for (size_t i = 0; i < tune->note_count; i++)
        if (net_random(random) % VARIED_IN == 0)
            s->varied[i].pitch += (int16_t)(net_random(random) & 1 ? 2 : -1);
    const struct lesson *l = &s->lessons[index];
    bool begun = !s->live && l->text[LESSON_BEGUN].count && net_random(random) % BEGUN_IN == 0;
    fill_example(s, l, begun ? LESSON_BEGUN : LESSON_WHOLE, s->varied, example);
}

static bool make_examples(struct school *s)
{
    for (size_t i = 0; i < s->count; i++) {
        struct lesson *l = &s->lessons[i];
        lesson_find_styles(l, s->out->style_whole);
        float hymn = l->from->hymn < 0 ? l->text[LESSON_WHOLE].style : l->from->hymn;
        s->examples[i] = (struct net_example){.role = l->role,
                                              .chord = l->chord,
                                              .weight = 1 + (HYMN_WEIGHT - 1) * hymn,
                                              .style = 0.02f + hymn,
                                              .room = l->count,
                                              .frames = malloc((l->count + 1) * US_NET_IN * sizeof(float))};
        if (!s->examples[i].frames) return false;
        fill_example(s, l, LESSON_WHOLE, l->from->tune->notes, &s->examples[i]);
    }
    return true;
}

static bool learn_net(struct school *s, uint32_t seed, const struct us_harmony_net *start,
                      struct us_harmony_net *out)
{
    const struct us_harmony_learn_options *o = s->options;
    struct net_plan plan = {.live = s->live,
                            .deep_layers = s->live ? US_NET_LIVE_DEEP : US_NET_DEEP,
                            .epochs = o->epochs ? o->epochs
                                      : s->live ? LIVE_EPOCHS
                                                : WHOLE_EPOCHS,
                            .tunes_a_step = 12,
                            .rate = start ? 0.0005f : 0.003f,
                            .decay = 0.1f,
                            .plain_decay = 0.1f,
                            .mean_from = 0.5f,
                            .drop = s->live ? 0.4f : 0.45f,
                            .drop_in = 0.1f,
                            .chord_share = 0.7f,
                            .seed = seed,
                            .vary = vary,
                            .user = s};
    struct net_weights *w = malloc(sizeof *w);
    double loss = 0;
    bool fine = w != NULL;
    if (fine && start) net_restore(start, w);
    if (fine && !start) net_weights_start(w, seed + 77);
    fine = fine && net_train(w, s->examples, s->count, &plan, &loss);
    if (fine) net_quantize(w, &plan, s->live ? LIVE_MIX : WHOLE_MIX, out);
    char line[80];
    snprintf(line, sizeof line, "network %u of %s: loss %.3f", seed, s->live ? "live" : "whole tunes", loss);
    if (fine && o->progress) o->progress(line);
    free(w);
    return fine;
}

static bool learn_nets(struct school *s)
{
    bool fine = true;
    const struct us_harmony_tables *start = s->options->start;
    for (int live = 0; live < 2 && fine; live++) {
        s->live = live;
        fine = make_examples(s);
        for (uint32_t k = 0; fine && k < (live ? US_LIVE_NETS : US_WHOLE_NETS); k++) {
            const struct us_harmony_net *from = !start ? NULL : live ? &start->live[k] : &start->whole[k];
            fine = learn_net(s, k + 1, from, live ? &s->out->live[k] : &s->out->whole[k]);
        }
        for (size_t i = 0; i < s->count; i++) {
            free(s->examples[i].frames);
            s->examples[i].frames = NULL;
        }
    }
    return fine;
}

static bool open_lessons(struct school *s, const struct us_harmony_lesson *lessons, size_t count)
{
    size_t notes = 1;
    s->lessons = calloc(count + 1, sizeof *s->lessons);
    s->examples = calloc(count + 1, sizeof *s->examples);
    for (size_t i = 0; s->lessons && i < count; i++) {
        struct lesson *l = &s->lessons[s->count];
        if (!lesson_init(l, &lessons[i])) return false;
        if (lessons[i].tune->note_count > notes) notes = lessons[i].tune->note_count;
        if (l->count)
            s->count++;
        else
            lesson_finish(l);
    }
    s->varied = malloc(notes * sizeof *s->varied);
    s->heard = malloc(notes * sizeof *s->heard);
    return s->lessons && s->examples && s->varied && s->heard;
}

enum us_status us_harmony_learn(const struct us_harmony_lesson *lessons, size_t count,
                                const struct us_harmony_learn_options *options, struct us_harmony_tables *out,
                                struct us_error *error)
{
    struct school s = {.options = options, .out = out};
    if (options->start)
        *out = *options->start;
    else
        memset(out, 0, sizeof *out);
    bool fine = open_lessons(&s, lessons, count);
    if (fine && !options->start) {
        fine = learn_style(s.lessons, s.count, out);
        learn_moves(s.lessons, s.count, out);
    }
    bool none = fine && s.count == 0;
    fine = fine && !none && learn_nets(&s);
    if (fine && !options->start) fine = learn_rates(s.lessons, s.count, out);
    for (size_t i = 0; i < s.count; i++)
        lesson_finish(&s.lessons[i]);
    free(s.lessons);
    free(s.examples);
    free(s.varied);
    free(s.heard);
    if (none)
        return us_error_set(error, US_STATUS_BAD_INPUT, "no tune with notes, chords and a key to learn from");
    return fine ? US_STATUS_OK : us_error_set(error, US_STATUS_NO_MEMORY, "out of memory while learning");
}
