/* The metre and pickup of a whole quantized tune: every one that may be meant is tried on all notes. */
#include "follower_parts.h"

#include <math.h>

static const float TUNE_CONTOUR_TRUST = 0.8F; /* turns of the melody, against rhythm */
static const float CLOSES = 2.0F;             /* the last bar, filled up by the pickup, is full */
static const float ECHO_AT_PLACE = 0.06F; /* per note: what comes back does so at the same place in the bar */

/* Steps that the tables do not know are read as the nearest shorter one. */
static uint8_t nearest_step(int32_t ticks)
{
    uint8_t k = 0;
    while (k + 1 < RHYTHM_STEPS && RHYTHM_TICKS[k + 1] <= ticks)
        k++;
    return k;
}

static int32_t ticks_of(double quarters)
{
    return (int32_t)lround(quarters * US_FOLLOWER_TICKS);
}

/* How many of the notes come back one, two, four or eight bars later. */
static float echoes(const struct us_follower_metre *m, const struct us_note *notes, size_t count)
{
    float found = 0;
    size_t ahead[4] = {0};
    for (size_t i = 0; i < count; i++) {
        for (int a = 0; a < 4; a++) {
            double at = notes[i].at + (1 << a) * m->bar_ticks / (double)US_FOLLOWER_TICKS - 1e-3;
            while (ahead[a] < count && notes[ahead[a]].at < at)
                ahead[a]++;
            const struct us_note *there = &notes[ahead[a]];
            found += ahead[a] < count && there->at < at + 2e-3 && there->pitch == notes[i].pitch;
        }
    }
    return found;
}

static float fits(const struct us_follower_metre *m, int32_t pickup, const struct us_note *notes,
                  size_t count)
{
    float score = m->log_prior;
    uint8_t last = NO_STEP;
    for (size_t i = 0; i + 1 < count; i++) {
        int32_t at = ticks_of(notes[i].at), step_ticks = ticks_of(notes[i + 1].at) - at;
        if (step_ticks <= 0) continue;
        uint8_t step = nearest_step(step_ticks);
        score += (float)rhythm_row(m, at - pickup, last)[step] / 16.0F;
        last = step;
        if (!i) continue;
        int turn = contour_of(notes[i - 1].pitch, notes[i].pitch, notes[i + 1].pitch);
        score += TUNE_CONTOUR_TRUST * (float)contour_evidence(m, at - pickup, turn) / 16.0F;
    }
    int32_t end = ticks_of(notes[count - 1].at + notes[count - 1].len);
    if (wrap(end - pickup, m->bar_ticks) == 0 || wrap(end, m->bar_ticks) == 0) score += CLOSES;
    return score;
}

static float pickup_prior(int32_t ticks)
{
    for (int i = 0; i < PICKUPS; i++)
        if (PICKUP[i].ticks == ticks) return PICKUP[i].log_prior;
    return -5.0F;
}

bool us_metre_of_tune(const struct us_note *notes, size_t count, struct us_metre *metre, double *pickup)
{
    static const struct {
        uint8_t top, bottom;
        float log_prior;
    } METRES[] = {{4, 4, -1.0F}, {3, 4, -1.5F}, {2, 4, -2.5F}, {6, 8, -1.5F}, {9, 8, -3.5F}};
    *metre = (struct us_metre){4, 4};
    *pickup = 0;
    if (count < 4) return false;
    float best = -INFINITY;
    int32_t first = ticks_of(notes[0].at);
    for (size_t i = 0; i < sizeof METRES / sizeof *METRES; i++) {
        struct us_follower_metre m =
            rhythm_metre((struct us_metre){METRES[i].top, METRES[i].bottom}, METRES[i].log_prior);
        m.log_prior += ECHO_AT_PLACE * echoes(&m, notes, count);
        for (int32_t up = 0; up < m.bar_ticks; up += US_FOLLOWER_TICKS / 2) {
            float score = fits(&m, first + up, notes, count) + pickup_prior(up);
            if (score > best) {
                best = score;
                *metre = m.metre;
                *pickup = (double)wrap(first + up, m.bar_ticks) / US_FOLLOWER_TICKS;
            }
        }
    }
    return true;
}
