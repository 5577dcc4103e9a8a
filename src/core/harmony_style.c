/* Hymn-like tunes change chords by the beat, dances by the bar: which of the two this is, by its notes. */
#include "harmony_frame.h"

#include <math.h>
#include <string.h>

/* Upper ends of the classes of note length, in quarters. */
static const float LENGTH_ENDS[9] = {0.3f, 0.4f, 0.6f, 0.8f, 1.2f, 1.7f, 2.2f, 3.2f, INFINITY};
enum { REPEAT_NOTES = 8, REPEAT_WITHIN = 512 };

void us_style_note(struct us_style_clues *clues, double quarters, int interval, int above_tonic)
{
    int i = 0;
    while ((float)quarters > LENGTH_ENDS[i])
        i++;
    clues->length[i]++;
    clues->lengths++;
    if (interval < 0) interval = -interval;
    if (interval <= 12) clues->interval[interval]++;
    clues->intervals++;
    clues->step[us_pitch_class(above_tonic)]++;
    clues->steps++;
}

void us_style_forget(struct us_style_clues *c)
{
    us_halve(c->length, sizeof c->length / sizeof *c->length);
    us_halve(c->interval, sizeof c->interval / sizeof *c->interval);
    us_halve(c->step, sizeof c->step / sizeof *c->step);
    us_halve(&c->lengths, 1);
    us_halve(&c->intervals, 1);
    us_halve(&c->steps, 1);
}

static void metre_clues(float *x, struct us_metre metre)
{
    static const struct us_metre KNOWN[6] = {{4, 4}, {3, 4}, {6, 8}, {2, 4}, {9, 8}, {6, 4}};
    for (int i = 0; i < 6; i++)
        x[i] = metre.top == KNOWN[i].top && metre.bottom == KNOWN[i].bottom ? 0.5f : 0;
}

float us_style_judge(const struct us_style_clues *clues, const float *weights, struct us_metre metre,
                     float beats_log, float repeats, float x[US_STYLE_CLUES])
{
    float *p = x, sum = 0;
    memset(x, 0, US_STYLE_CLUES * sizeof *x);
    for (int i = 0; i < 9; i++)
        *p++ = 2 * clues->length[i] / (clues->lengths + 2);
    for (int i = 0; i < 13; i++)
        *p++ = 3 * clues->interval[i] / (clues->intervals + 2);
    for (int i = 0; i < US_PITCH_CLASSES; i++)
        *p++ = 3 * clues->step[i] / (clues->steps + 2);
    metre_clues(p, metre);
    p += 6;
    *p++ = beats_log;
    *p++ = repeats;
    *p++ = 1;
    for (int i = 0; weights && i < US_STYLE_CLUES; i++)
        sum += weights[i] * x[i];
    return 1 / (1 + expf(-sum));
}

/* The share of the notes from which on the tune goes as it has gone before, for a while. */
static float repeats_of(const struct us_tune *tune)
{
    size_t n = tune->note_count, repeats = 0;
    if (n <= REPEAT_NOTES) return 0;
    for (size_t i = 1; i + REPEAT_NOTES < n; i++) {
        bool found = false;
        for (size_t k = i > REPEAT_WITHIN ? i - REPEAT_WITHIN : 0; k < i && !found; k++) {
            found = true;
            for (size_t j = 0; j < REPEAT_NOTES && found; j++)
                found = tune->notes[i + j + 1].pitch - tune->notes[i + j].pitch ==
                        tune->notes[k + j + 1].pitch - tune->notes[k + j].pitch;
        }
        repeats += found;
    }
    return (float)repeats / (float)(n - REPEAT_NOTES);
}

float us_style_of_tune(const struct us_tune *tune, struct us_key key, struct us_metre metre, size_t beats,
                       const float *weights, float x[US_STYLE_CLUES])
{
    struct us_style_clues clues = {{0}, {0}, {0}, 0, 0, 0};
    for (size_t i = 1; i < tune->note_count; i++) {
        const struct us_note *a = &tune->notes[i - 1], *b = &tune->notes[i];
        us_style_note(&clues, b->at - a->at, b->pitch - a->pitch, a->pitch - key.tonic);
    }
    return us_style_judge(&clues, weights, metre, logf((float)beats / 100 + 0.1f), repeats_of(tune), x);
}
