#include "lesson.h"

#include <math.h>
#include <stdlib.h>

static void find_answers(struct lesson *l, const struct us_grid *grid)
{
    const struct us_tune *tune = l->from->tune;
    for (size_t i = 0; i < l->count; i++) {
        struct us_chord chord = us_chord_at(tune->chords, tune->chord_count, us_grid_at(grid, i));
        bool cut = i == 0 && grid->first > 0;
        l->role[i] = l->chord[i] = -1;
        if (cut || chord.root == US_NO_CHORD) continue;
        l->role[i] = (int8_t)(us_chord_role(chord, l->from->key) - US_ROLE_I);
        l->chord[i] = (int8_t)us_class_of(chord, l->from->key);
    }
}

static void add_text(struct lesson *l, struct lesson_text *text, size_t notes)
{
    struct us_harmony_request request = l->request;
    text->tune = *l->from->tune;
    text->tune.note_count = notes;
    request.tune = &text->tune;
    text->count = us_harmony_beats(&request);
    us_style_of_tune(&text->tune, l->from->key, request.metre, text->count, NULL, text->clues);
}

static void add_texts(struct lesson *l, const struct us_grid *grid)
{
    enum { BARS = 16, LEAST = 10 };
    const struct us_tune *tune = l->from->tune;
    if (l->count == 0) return;
    add_text(l, &l->text[LESSON_WHOLE], tune->note_count);
    size_t notes = 0;
    while (notes < tune->note_count && tune->notes[notes].at < grid->pickup + BARS * grid->bar - 1e-3)
        notes++;
    if (notes >= LEAST && notes < tune->note_count) add_text(l, &l->text[LESSON_BEGUN], notes);
}

bool lesson_init(struct lesson *l, const struct us_harmony_lesson *from)
{
    struct us_grid grid;
    *l = (struct lesson){.from = from};
    l->request = (struct us_harmony_request){
        .tune = from->tune, .key = from->key, .metre = from->tune->metre, .pickup = from->tune->pickup};
    us_grid_make(&grid, &l->request);
    l->count = from->tune->chord_count && from->key.tonic != US_NO_KEY ? grid.count : 0;
    l->role = malloc(l->count + 1);
    l->chord = malloc(l->count + 1);
    if (!l->role || !l->chord) {
        lesson_finish(l);
        return false;
    }
    find_answers(l, &grid);
    add_texts(l, &grid);
    return true;
}

void lesson_find_styles(struct lesson *l, const float *weights)
{
    float x[US_STYLE_CLUES];
    for (int i = 0; i < LESSON_LENGTHS; i++) {
        struct lesson_text *text = &l->text[i];
        if (text->count)
            text->style =
                us_style_of_tune(&text->tune, l->from->key, l->request.metre, text->count, weights, x);
    }
}

void lesson_finish(struct lesson *l)
{
    free(l->role);
    free(l->chord);
    l->role = l->chord = NULL;
}

/* Live nobody knows how long a note will be held: it sounds until the next one. */
static void heard_notes(const struct us_note *notes, size_t count, struct us_note *out)
{
    for (size_t i = 0; i < count; i++) {
        out[i] = notes[i];
        if (i + 1 < count) out[i].len = notes[i + 1].at - notes[i].at;
    }
}

/* Gathers the clues of notes whose length is known by the time `at`. */
static size_t gather(struct us_style_clues *clues, const struct us_note *notes, size_t count, size_t next,
                     double at, struct us_key key)
{
    while (next + 1 < count && notes[next + 1].at <= at + 1e-3) {
        us_style_note(clues, notes[next + 1].at - notes[next].at, notes[next + 1].pitch - notes[next].pitch,
                      notes[next].pitch - key.tonic);
        next++;
    }
    return next;
}

static void live_frames(const struct lesson *l, const struct us_grid *grid, const struct us_note *notes,
                        size_t count, const struct us_harmony_tables *tables, float *frames)
{
    struct us_ear ear = {count ? (float)notes[0].pitch : 0, -1};
    struct us_heard heard[2] = {{{0}, -1, -1, -1, false, 0, 0, 0, 0}};
    struct us_style_clues clues = {{0}, {0}, {0}, 0, 0, 0};
    bool compound = fabs(grid->beat - 1.5) < 1e-3;
    size_t next = 0;
    for (size_t i = 0; i < l->count; i++) {
        struct us_position position;
        float x[US_STYLE_CLUES];
        double at = us_grid_at(grid, i), len = i || grid->first <= 0 ? grid->beat : grid->first;
        us_ear_listen(&ear, notes, count, at, len, compound, &heard[i % 2]);
        us_grid_position(grid, &l->request, i, &position);
        next = gather(&clues, notes, count, next, at, l->from->key);
        struct us_frame_context context = {
            -1, us_style_judge(&clues, tables->style_live, l->request.metre, 0, 0, x)};
        us_frame_fill(&frames[i * US_NET_IN], &heard[i % 2], i ? &heard[(i - 1) % 2] : NULL, l->from->key,
                      &position, &context);
    }
}

void lesson_live_frames(const struct lesson *l, const struct us_note *notes, struct us_note *heard,
                        const struct us_harmony_tables *tables, float *frames)
{
    struct us_grid grid;
    size_t count = l->from->tune->note_count;
    us_grid_make(&grid, &l->request);
    heard_notes(notes, count, heard);
    live_frames(l, &grid, heard, count, tables, frames);
}

void lesson_text_frames(const struct lesson *l, const struct lesson_text *text, const struct us_note *notes,
                        float *frames)
{
    struct us_grid grid;
    struct us_tune tune = text->tune;
    struct us_harmony_request request = l->request;
    tune.notes = notes;
    request.tune = &tune;
    us_grid_make(&grid, &request);
    us_frames_of_tune(&request, &grid, text->style, frames);
}

void lesson_hear(struct lesson_hearing *hearing, size_t beat, const struct us_position *position)
{
    const struct us_tune *tune = hearing->tune;
    const struct us_grid *grid = hearing->grid;
    double until = us_grid_at(grid, beat) + 1e-6;
    for (; hearing->next < tune->note_count && tune->notes[hearing->next].at <= until; hearing->next++) {
        const struct us_note *note = &tune->notes[hearing->next];
        double from = note->at - grid->pickup, bar = floor(from / grid->bar + 1e-3);
        struct us_position here = *position;
        here.bar = (int32_t)bar;
        here.bar_quarters = fmax(0, from - bar * grid->bar);
        us_harmony_live_note(hearing->h, hearing->key, &here, note->pitch + hearing->up);
    }
}
