#include "fingering_model.h"

#include <math.h>
#include <string.h>

static const double GROWN_UP_SPAN = 15;

enum { PAIRS = US_FINGERS * US_FINGERS };

size_t us_fingering_workspace(size_t count)
{
    return count * PAIRS;
}

/* Best cost of the melody up to note `i`, for each pair of fingers on notes i - 1 and i; where it came from
   goes into `back`. */
static void advance(const struct fingering_model *m, const struct us_note *notes, size_t count, size_t i,
                    const double before[PAIRS], double after[PAIRS], uint8_t *back)
{
    for (int pair = 0; pair < PAIRS; pair++) {
        int b = pair / US_FINGERS + 1, c = pair % US_FINGERS + 1;
        after[pair] = INFINITY;
        for (int a = 1; a <= US_FINGERS; a++) {
            double cost =
                before[(a - 1) * US_FINGERS + b - 1] + fingering_step_cost(m, notes, count, i, a, b, c);
            if (cost >= after[pair]) continue;
            after[pair] = cost;
            back[pair] = (uint8_t)a;
        }
    }
}

static double solve(const struct fingering_model *m, const struct us_note *notes, size_t count,
                    uint8_t *workspace, uint8_t *fingers)
{
    double costs[2][PAIRS];
    for (int pair = 0; pair < PAIRS; pair++)
        costs[0][pair] = fingering_step_cost(m, notes, count, 0, 0, 0, pair % US_FINGERS + 1);
    for (size_t i = 1; i < count; i++)
        advance(m, notes, count, i, costs[(i - 1) & 1], costs[i & 1], workspace + i * PAIRS);
    const double *last = costs[(count - 1) & 1];
    int best = 0;
    for (int pair = 1; pair < PAIRS; pair++)
        if (last[pair] < last[best]) best = pair;
    for (size_t i = count, pair = (size_t)best; i-- > 0;) {
        fingers[i] = (uint8_t)(pair % US_FINGERS + 1);
        size_t b = pair / US_FINGERS;
        if (i > 0) pair = (size_t)(workspace[i * PAIRS + pair] - 1) * US_FINGERS + b;
    }
    return last[best];
}

/* Keys on white keynotes pass at the keynote and after three notes, or after four where the fourth step is
   black (F): so the fourth finger comes to B-flat, or to the leading note. */
static struct fingering_model without_habits(struct us_key key, double span_semitones)
{
    struct fingering_model m = {.tonic = key.tonic, .scale = us_key_scale(key)};
    double span = span_semitones > 0 ? fmin(fmax(span_semitones, 7), 24) : GROWN_UP_SPAN;
    m.stretch_factor = span / GROWN_UP_SPAN;
    if (key.tonic == US_NO_KEY || fingering_is_black(key.tonic)) return m;
    int fourth = key.tonic + us_mode_step_semitones((enum us_mode)key.mode, 4);
    if (fingering_is_black(fourth)) fourth = key.tonic + us_mode_step_semitones((enum us_mode)key.mode, 5);
    m.passes = (us_pcset)(1u << us_pitch_class(key.tonic) | 1u << us_pitch_class(fourth));
    return m;
}

enum { RUN_OCTAVES = 4, RUN_NOTES = 7 * RUN_OCTAVES };

static void scale_fingers(struct fingering_model *m, struct us_key key)
{
    struct us_note run[RUN_NOTES];
    uint8_t workspace[RUN_NOTES * PAIRS], fingers[RUN_NOTES];
    for (int i = 0; i < RUN_NOTES; i++) {
        int above = us_mode_step_semitones((enum us_mode)key.mode, i % 7 + 1);
        if (key.mode == US_MODE_MINOR && i % 7 == 6) above++;
        run[i] = (struct us_note){i, 1, (int16_t)(36 + key.tonic + 12 * (i / 7) + above), 64};
    }
    solve(m, run, RUN_NOTES, workspace, fingers);
    for (int i = 7; i < 14; i++)
        m->scale_fingers[us_pitch_class(run[i].pitch)] = fingers[i];
}

struct fingering_model fingering_model_of(const struct us_fingering_settings *settings)
{
    struct fingering_model m = without_habits(settings->key, settings->span_semitones);
    if (settings->key.tonic != US_NO_KEY) scale_fingers(&m, settings->key);
    return m;
}

double us_fingering_right(const struct us_note *notes, size_t count,
                          const struct us_fingering_settings *settings, uint8_t *workspace, uint8_t *fingers)
{
    if (!count) return 0;
    struct fingering_model m = fingering_model_of(settings);
    return solve(&m, notes, count, workspace, fingers);
}
