#include "harmony_frame.h"

#include <math.h>
#include <string.h>

static const double NEAR = 1e-3;

static void mark(float *place, int pitch, struct us_key key)
{
    if (pitch >= 0) place[us_pitch_class(pitch - key.tonic)] = 1;
}

static void fill_metre(float *x, const struct us_position *p)
{
    int beats = us_metre_beats(p->metre);
    double beat = us_metre_beat_quarters(p->metre), bar = us_metre_bar_quarters(p->metre);
    if (p->on_beat) {
        int index = (int)(p->bar_quarters / beat + 0.5);
        x[US_FRAME_BAR] = p->on_bar;
        x[US_FRAME_HALF] = beats % 2 == 0 && fabs(p->bar_quarters - bar / 2) < NEAR;
        x[US_FRAME_BEAT + (index < 3 ? index : 3)] = 1;
    }
    x[US_FRAME_BEATS + (beats == 2 ? 0 : beats == 3 ? 1 : beats == 4 ? 2 : 3)] = 1;
    x[US_FRAME_COMPOUND] = fabs(beat - 1.5) < NEAR;
    x[US_FRAME_LARGE] = p->metre.bottom == 2 || (p->metre.top == 6 && p->metre.bottom == 4);
    if (p->bar < 0 || !p->on_beat) x[US_FRAME_PICKUP] = 1;
    x[US_FRAME_FIRST_BAR] = p->bar < 1;
    if (p->bar >= 0) {
        x[US_FRAME_BAR_OF_FOUR + p->bar % 4] = 1;
        x[US_FRAME_FOUR_OF_TWO + p->bar / 4 % 2] = 1;
    }
}

void us_frame_fill(float *x, const struct us_heard *now, const struct us_heard *body, struct us_key key,
                   const struct us_position *position, const struct us_frame_context *context)
{
    memset(x, 0, US_NET_IN * sizeof *x);
    if (body) {
        for (int i = 0; i < US_PITCH_CLASSES; i++)
            x[US_FRAME_SHARE + us_pitch_class(i - key.tonic)] = body->share[i];
        mark(&x[US_FRAME_MID], body->mid, key);
        mark(&x[US_FRAME_LATE], body->late, key);
    }
    if (now->start >= 0) {
        mark(&x[US_FRAME_START], now->start, key);
        x[US_FRAME_ONSET] = now->onset;
        x[US_FRAME_HELD] = !now->onset;
        x[US_FRAME_TO_COME] = now == body ? fminf(now->to_come, 4) / 2 : 0;
        x[US_FRAME_SO_FAR] = fminf(now->so_far, 4) / 2;
        x[US_FRAME_HEIGHT] = now->height;
        x[US_FRAME_RISE] = now->rise;
    }
    if (position->metre.top) fill_metre(x, position);
    x[US_FRAME_MINOR] = us_mode_has_minor_third((enum us_mode)key.mode);
    if (context->bars_to_end >= 0) {
        x[US_FRAME_LAST_BAR] = context->bars_to_end == 0;
        x[US_FRAME_BAR_BEFORE_LAST] = context->bars_to_end == 1;
        x[US_FRAME_BARS_TO_END + context->bars_to_end % 8] = 1;
    }
    x[US_FRAME_ONE] = 1;
    x[US_FRAME_STYLE] = context->style;
}

int us_frame_step(const float *frame, enum us_frame_place first)
{
    for (int i = 0; i < US_PITCH_CLASSES; i++)
        if (frame[(int)first + i] > 0) return i;
    return -1;
}

/* How many notes begin at or before `when`. */
static size_t begun(const struct us_note *notes, size_t count, double when)
{
    size_t low = 0, high = count;
    while (low < high) {
        size_t middle = (low + high) / 2;
        if (notes[middle].at <= when)
            low = middle + 1;
        else
            high = middle;
    }
    return low;
}

/* The note that sounds at `when`, or NULL. */
static const struct us_note *sounding(const struct us_note *notes, size_t count, double when)
{
    size_t n = begun(notes, count, when + NEAR);
    return n && notes[n - 1].at + notes[n - 1].len > when + NEAR ? &notes[n - 1] : NULL;
}

static int16_t pitch_at(const struct us_note *notes, size_t count, double when)
{
    const struct us_note *note = sounding(notes, count, when);
    return note ? note->pitch : -1;
}

static void hear_shares(const struct us_note *notes, size_t count, double at, double beat,
                        struct us_heard *out)
{
    for (size_t i = 0; i < count && notes[i].at < at + beat - 1e-6; i++) {
        if (notes[i].at + notes[i].len - at <= 1e-6) continue; /* over before; most are */
        double to = fmin(notes[i].at + notes[i].len, at + beat), from = fmax(notes[i].at, at);
        if (to - from > 1e-6) out->share[us_pitch_class(notes[i].pitch)] += (float)((to - from) / beat);
    }
}

void us_ear_listen(struct us_ear *ear, const struct us_note *notes, size_t count, double at, double beat,
                   bool compound, struct us_heard *out)
{
    memset(out, 0, sizeof *out);
    size_t first = begun(notes, count, at - 16);
    if (first) first--;
    hear_shares(notes + first, count - first, at, beat, out);
    const struct us_note *note = sounding(notes, count, at);
    out->start = note ? note->pitch : -1;
    out->mid = pitch_at(notes, count, at + (compound ? beat / 3 : beat / 2));
    out->late = pitch_at(notes, count, at + (compound ? 2 * beat / 3 : 3 * beat / 4));
    if (!note) return;
    out->onset = fabs(note->at - at) < 2 * NEAR;
    out->to_come = (float)((note->at + note->len - at) / beat);
    out->so_far = (float)((at - note->at) / beat);
    out->height = ((float)note->pitch - ear->running) / 12;
    if (ear->before >= 0) out->rise = (float)(note->pitch - ear->before) / 12;
    ear->before = note->pitch;
    ear->running = 0.9f * ear->running + 0.1f * (float)note->pitch;
}

void us_frames_of_tune(const struct us_harmony_request *request, const struct us_grid *grid, float style,
                       float *frames)
{
    const struct us_tune *tune = request->tune;
    struct us_ear ear = {tune->note_count ? (float)tune->notes[0].pitch : 0, -1};
    bool compound = fabs(grid->beat - 1.5) < NEAR;
    double bars = floor((grid->end - grid->pickup - NEAR) / grid->bar);
    for (size_t i = 0; i < grid->count; i++) {
        struct us_heard heard;
        struct us_position position;
        double at = us_grid_at(grid, i), len = i || grid->first <= 0 ? grid->beat : grid->first;
        us_ear_listen(&ear, tune->notes, tune->note_count, at, len, compound, &heard);
        us_grid_position(grid, request, i, &position);
        struct us_frame_context context = {(int32_t)bars - position.bar, style};
        us_frame_fill(&frames[i * US_NET_IN], &heard, &heard, us_harmony_key_at(request, at), &position,
                      &context);
    }
}
