/* The follower's outside: notes, taps and time in, felt beats out. */
#include "undersong/follower_state.h"

#include "follower_parts.h"

#include <math.h>
#include <string.h>

static const double SAME_ONSET_S = 0.04;
static const double TAP_LEAST_S = 0.2, TAP_MOST_S = 2.0; /* between the beats of a count-in */
static const double SLOWEST = 20, FASTEST = 400;         /* quarters a minute that can be given */
static const float BEAT_VOTE = 0.5F;
static const float MAYBE = 0.15F; /* as much weight makes a bar line possible */

static void add_metre(struct us_follower *f, uint8_t top, uint8_t bottom, float log_prior)
{
    f->metres[f->metre_count++] = rhythm_metre((struct us_metre){top, bottom}, log_prior);
}

void us_follower_init(struct us_follower *f, const struct us_follower_settings *settings)
{
    memset(f, 0, sizeof *f);
    f->settings = settings ? *settings : (struct us_follower_settings){.pickup = -1};
    if (f->settings.metre.top && f->settings.metre.bottom) {
        add_metre(f, f->settings.metre.top, f->settings.metre.bottom, 0.0F);
    } else {
        add_metre(f, 4, 4, -1.0F);
        add_metre(f, 3, 4, -1.5F);
        add_metre(f, 2, 4, -1.9F);
        add_metre(f, 6, 8, -1.5F);
        add_metre(f, 9, 8, -3.5F);
    }
    f->due_ns = INT64_MAX;
    f->now_ns = INT64_MIN;
    f->hold_mean = -0.2F;
    f->hold_var = 0.12F;
    f->jitter_s = 0.028F;
    f->repeats = 0.16F;
    f->graces = USUAL_GRACES;
    f->drift = 0.018F;
    double tempo = f->settings.quarters_a_minute;
    if (tempo > 0) f->tempo_guess_s = (float)(60.0 / fmin(FASTEST, fmax(SLOWEST, tempo)));
}

static int64_t forward(struct us_follower *f, int64_t at_ns)
{
    if (at_ns > f->now_ns) f->now_ns = at_ns;
    return f->now_ns;
}

static void fill(const struct us_follower *f, int32_t ticks, int64_t at_ns, struct us_felt *out)
{
    const struct us_follower_guess *g = best_guess(f);
    const struct us_follower_metre *metre = &f->metres[g->metre];
    int32_t place = wrap(ticks, metre->bar_ticks);
    *out = (struct us_felt){
        .at_ns = at_ns,
        .bar_quarters = (double)place / US_FOLLOWER_TICKS,
        .bar = (ticks - place) / metre->bar_ticks,
        .metre = metre->metre,
        .quarter_ns = (double)g->quarter_s * 1e9,
        .on_bar = place == 0,
        .on_beat = place % metre->beat_ticks == 0,
        .sure = (double)f->sure,
    };
    out->maybe_bar = !out->on_bar && out->on_beat && beam_belief(f, ticks - g->ticks, true) > MAYBE;
}

static void begin_first_run(struct us_follower *f, int64_t at_ns)
{
    f->origin_ns = at_ns;
    f->declared_s = -1e9;
    f->declared_ticks = INT32_MIN / 2;
}

static void remember(struct us_follower *f, double at_s, int pitch, int velocity)
{
    f->note_count++;
    *newest_note(f) = (struct us_follower_note){at_s, -1, (uint8_t)pitch, (uint8_t)velocity, false};
}

/* Another key of the newest onset, or the same one that bounced: the highest is the note, and it is down. */
static void join_onset(struct us_follower *f, int pitch)
{
    struct us_follower_note *note = newest_note(f);
    if (pitch < note->pitch) return;
    if (note->off_s >= 0) { /* the beats under it are counted anew */
        f->waiting = false;
        f->unscheduled = true;
    }
    note->pitch = (uint8_t)pitch;
    note->off_s = -1;
}

/* Whether the beat under this onset has been declared already. */
static bool declared_before(const struct us_follower *f, const struct us_felt *felt, double at_s)
{
    const struct us_follower_guess *g = best_guess(f);
    double beat_s = (double)(g->quarter_s * (float)f->metres[g->metre].beat_ticks) / US_FOLLOWER_TICKS;
    return felt->on_beat && at_s - f->declared_s < 0.4 * beat_s && (f->declared_bar || !felt->on_bar);
}

static void declare(struct us_follower *f, const struct us_felt *felt, int32_t ticks, double at_s)
{
    f->declared_ticks = ticks;
    f->declared_s = at_s;
    f->declared_bar = felt->on_bar;
}

void us_follower_onset(struct us_follower *f, int64_t at_ns, int pitch, int velocity, struct us_felt *out)
{
    at_ns = forward(f, at_ns);
    pitch &= 127;
    if (!(f->keys_down[pitch / 8] >> (pitch % 8) & 1)) f->held++;
    f->keys_down[pitch / 8] |= (uint8_t)(1 << (pitch % 8));
    bool first = !f->note_count, after_end = !first && !f->running;
    if (first) begin_first_run(f, at_ns);
    f->running = true;
    double at_s = (double)(at_ns - f->origin_ns) * 1e-9;
    if (!first && at_s - newest_note(f)->at_s < SAME_ONSET_S) {
        join_onset(f, pitch);
        fill(f, best_guess(f)->ticks, at_ns, out);
        out->on_onset = out->already = true;
        return;
    }
    remember(f, at_s, pitch, velocity);
    if (first)
        beam_begin(f);
    else
        beam_advance(f, after_end);
    const struct us_follower_guess *g = best_guess(f);
    fill(f, g->ticks, at_ns, out);
    out->on_onset = true;
    if (!out->on_bar) out->on_beat = beam_belief(f, 0, false) > BEAT_VOTE;
    out->fresh = first || g->start_note != f->run_note;
    f->run_note = g->start_note;
    out->waiting = g->how == HOW_HESITATED || after_end;
    out->already = declared_before(f, out, at_s) || g->how == HOW_STUTTERED || g->how == HOW_ORNAMENT ||
                   g->how == HOW_GRACE;
    newest_note(f)->stopped = out->waiting;
    f->waiting = false;
    f->declared_ticks = g->ticks;
    if (out->on_beat && !out->already) declare(f, out, g->ticks, at_s);
    f->unscheduled = true;
}

/* When the next beat is due is worked out when it is asked for: the answer to the onset does not wait for it.
 */
static void schedule_late(struct us_follower *f)
{
    if (f->unscheduled) felt_schedule(f);
}

int us_follower_first_line(const struct us_follower *f, double *sure)
{
    *sure = 1;
    if (!f->note_count) return -1;
    if (f->note_count == 1) {
        *sure = (double)beam_belief(f, 0, true);
        return f->notes[0].pitch;
    }
    const struct us_follower_guess *g = best_guess(f);
    for (uint32_t i = g->start_note; i < f->note_count && f->note_count - g->start_note < US_FOLLOWER_NOTES;
         i++)
        if (wrap(g->note_ticks[i % US_FOLLOWER_NOTES], f->metres[g->metre].bar_ticks) == 0)
            return f->notes[i % US_FOLLOWER_NOTES].pitch;
    return -1;
}

void us_follower_note_off(struct us_follower *f, int64_t at_ns, int pitch)
{
    schedule_late(f);
    at_ns = forward(f, at_ns);
    pitch &= 127;
    if (!(f->keys_down[pitch / 8] >> (pitch % 8) & 1)) return;
    f->keys_down[pitch / 8] &= (uint8_t) ~(1 << (pitch % 8));
    f->held--;
    if (!f->running) return;
    f->last_off_s = (double)(at_ns - f->origin_ns) * 1e-9;
    struct us_follower_note *note = newest_note(f);
    if (note->pitch == pitch && note->off_s < 0) note->off_s = f->last_off_s;
    felt_schedule(f);
}

void us_follower_tap(struct us_follower *f, int64_t at_ns)
{
    schedule_late(f);
    at_ns = forward(f, at_ns);
    if (f->running) {
        beam_tap(f, (double)(at_ns - f->origin_ns) * 1e-9);
        felt_schedule(f);
        return;
    }
    double gap_s = (double)(at_ns - f->tap_ns) * 1e-9;
    bool known = f->settings.metre.top && f->settings.metre.bottom;
    double beat_quarters = known ? us_metre_beat_quarters(f->settings.metre) : 1;
    if (f->tapped && gap_s > TAP_LEAST_S && gap_s < TAP_MOST_S)
        f->tempo_guess_s = (float)(gap_s / beat_quarters);
    f->tap_ns = at_ns;
    f->tapped = true;
}

uint32_t us_follower_onsets(const struct us_follower *f)
{
    return f->note_count;
}

void us_follower_again(struct us_follower *f, uint32_t note, double bar_quarters)
{
    if (!f->note_count || note >= f->note_count) return;
    bool kept = f->note_count - note < US_FOLLOWER_NOTES;
    schedule_late(f);
    for (int i = 0; i < f->guess_count; i++) {
        struct us_follower_guess *g = &f->guesses[f->side][i];
        int32_t ahead = kept ? (int16_t)(g->note_ticks[note % US_FOLLOWER_NOTES] - g->ticks)
                             : (int32_t)lround(bar_quarters * US_FOLLOWER_TICKS) - g->ticks;
        int32_t jump = wrap(ahead, f->metres[g->metre].bar_ticks);
        if (!jump) continue;
        g->ticks += jump;
        g->note_ticks[(f->note_count - 1) % US_FOLLOWER_NOTES] = (int16_t)g->ticks;
        if (kept) g->replay = note;
    }
    f->declared_ticks = best_guess(f)->ticks;
    felt_schedule(f);
}

int64_t us_follower_due(struct us_follower *f)
{
    schedule_late(f);
    return f->due_ns;
}

static void end_run(struct us_follower *f, struct us_felt *out)
{
    const struct us_follower_guess *g = best_guess(f);
    fill(f, g->ticks, f->due_ns, out);
    out->on_bar = out->on_beat = false;
    out->ended = true;
    if (g->quarter_s > 0) f->tempo_guess_s = g->quarter_s;
    f->running = false;
    f->due_ns = INT64_MAX;
}

bool us_follower_tick(struct us_follower *f, int64_t now_ns, struct us_felt *out)
{
    schedule_late(f);
    if (now_ns < f->due_ns || !f->running) return false;
    int64_t at_ns = f->due_ns;
    forward(f, at_ns);
    if (f->due_ends) {
        end_run(f, out);
        return true;
    }
    const struct us_follower_guess *g = best_guess(f);
    int32_t beat = f->metres[g->metre].beat_ticks;
    int32_t from = f->declared_ticks > g->ticks ? f->declared_ticks : g->ticks;
    int32_t ticks = from - wrap(from, beat) + beat;
    fill(f, ticks, at_ns, out);
    declare(f, out, ticks, (double)(at_ns - f->origin_ns) * 1e-9);
    felt_schedule(f);
    return true;
}
