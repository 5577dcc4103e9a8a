/* When a beat is declared with no onset: under a held note the tempo carries on; where a note is expected,
   the player is waited for. */
#include "follower_parts.h"

#include <math.h>

static const float MAY_BE_LATE_S =
    0.03F; /* how long a likely onset may be late before its beat is declared */
static const float LATE_SHARE = 0.36F, LATE_SHARE_HELD = 0.2F; /* of likely onsets, how many come late */

/* The chance that a key is held for longer than `ratio` of what is written. */
static float held_longer(const struct us_follower *f, float ratio)
{
    float z = (logf(ratio) - f->hold_mean) / sqrtf(f->hold_var);
    return 0.5F * erfcf(z * 0.70710678F) * 0.96F + 0.02F;
}

/* How well the key's state fits a note of `written_s` seconds. */
static float state_fits(const struct us_follower *f, const struct us_follower_note *note, float written_s,
                        float until_s)
{
    if (note->off_s < 0) return held_longer(f, until_s / written_s);
    float held_s = fmaxf(0.01F, (float)(note->off_s - note->at_s));
    float z = logf(held_s / written_s) - f->hold_mean;
    return 0.85F * expf(-0.5F * z * z / f->hold_var) / sqrtf(f->hold_var) + 0.1F;
}

/* How likely a gap of so many ticks after the last onset ends with an onset, the key's state counted in. */
static float onset_expected(const struct us_follower *f, int32_t gap_ticks)
{
    const struct us_follower_guess *g = best_guess(f);
    const int8_t *row = rhythm_row(&f->metres[g->metre], g->ticks, g->last_step);
    const struct us_follower_note *note = &f->notes[(f->note_count - 1) % US_FOLLOWER_NOTES];
    float here = 0, later = 0, tick_s = g->quarter_s / US_FOLLOWER_TICKS;
    for (int k = 0; k < RHYTHM_STEPS; k++) {
        if (RHYTHM_TICKS[k] < gap_ticks) continue;
        float weight = expf((float)row[k] / 16.0F) *
                       state_fits(f, note, (float)RHYTHM_TICKS[k] * tick_s, (float)gap_ticks * tick_s);
        if (RHYTHM_TICKS[k] == gap_ticks)
            here += weight;
        else
            later += weight;
    }
    return later > 0 ? here / (here + later) : 1.0F;
}

/* When the run ends for want of notes. */
static double end_s(const struct us_follower *f)
{
    const struct us_follower_guess *g = best_guess(f);
    double quarter_s = g->quarter_s > 0 ? g->quarter_s : 0.65;
    double bar_s = quarter_s * f->metres[g->metre].bar_ticks / US_FOLLOWER_TICKS;
    double at_s = f->notes[(f->note_count - 1) % US_FOLLOWER_NOTES].at_s;
    return f->held ? at_s + 4 * bar_s : fmax(at_s, f->last_off_s) + 2 * bar_s;
}

static int64_t to_ns(const struct us_follower *f, double s)
{
    return f->origin_ns + (int64_t)llround(s * 1e9);
}

void felt_schedule(struct us_follower *f)
{
    f->unscheduled = false;
    f->due_ns = INT64_MAX;
    if (!f->running) return;
    f->due_ns = to_ns(f, end_s(f));
    f->due_ends = true;
    const struct us_follower_guess *g = best_guess(f);
    if (g->quarter_s <= 0 || f->waiting) return;
    int32_t beat = f->metres[g->metre].beat_ticks;
    int32_t from = f->declared_ticks > g->ticks ? f->declared_ticks : g->ticks;
    int32_t next = from - wrap(from, beat) + beat;
    double when_s = g->phase_s + (double)(next - g->ticks) / US_FOLLOWER_TICKS * (double)g->quarter_s;
    float expected = onset_expected(f, next - g->ticks);
    if (expected > 0.2F) {
        bool held = f->notes[(f->note_count - 1) % US_FOLLOWER_NOTES].off_s < 0;
        float late = expected * (held ? LATE_SHARE_HELD : LATE_SHARE);
        if (late > 0.5F * (1 - expected)) {
            f->waiting = true;
            return;
        }
        when_s += (double)MAY_BE_LATE_S;
    }
    int64_t due = to_ns(f, when_s);
    if (due < f->due_ns) {
        f->due_ns = due < f->now_ns ? f->now_ns : due;
        f->due_ends = false;
    }
}
