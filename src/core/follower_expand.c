/* How one onset may be read: every guess is carried on in all the ways in which the note may have been meant.
 */
#include "follower_parts.h"

#include <math.h>

static const float KEEP_WITHIN = 9.8F; /* nepers below the best: a little more than what is carried on */
static const float TOO_WEAK = -9.0F;   /* a guess so far below the best is not carried on */
static const float HALF_LOG_TWO_PI = 0.9189385F;
static const float TEMPO_SPREAD = 0.2F, TEMPO_FAR = 8.0F, TEMPO_BEYOND = 0.3F; /* of the logarithm */
static const float TEMPO_PULL = 0.024F,
                   TEMPO_PULL_GIVEN = 0.1F; /* how much each onset leans to a usual tempo */
static const float RHYTHM_TRUST = 1.06F;    /* the tables overrate how alike tunes are */
static const float HESITATION_S = 0.8F, HESITATION_FALL = 2.4F, LOG_HESITATION = -1.9F;
static const float LOG_STUTTER_GAP = -1.31F, STUTTER_OTHER = -6.0F, LOG_STUTTER = -3.22F;
static const float LOG_TWICE_GAP = -0.5F, TWICE_GAP_SPREAD = 0.4F, LOG_TWICE = -3.0F, TWICE_WITHIN_S = 1.4F;
static const float TWICE_RARE = 1.0F, TWICE_ALIKE = 1.0F, TWICE_UNLIKE = 1.0F, USUAL_REPEATS = 0.16F;
static const float LOG_LINE_AGAIN = -1.2F, LINE_STOP_S = 0.25F, OUT_OF_TIME = 0.2F, LOG_TWICE_IN_TIME = -1.0F,
                   LINE_IN_TIME = -2.0F, LINE_NEXT_QUARTER = -3.0F;
static const float HOLD_FLOOR = -4.0F; /* keys are let go early at times */
static const float LOG_ORNAMENT = -1.6F;
static const float REPLAY_SURE = 0.78F,
                   REPLAY_DOUBT = 0.3F; /* that a strain comes back with the same rhythm */
static const float LOG_START_OVER = -1.0F, START_KNOWN = 1.0F, START_OTHER = -2.5F, START_AFTER_PAUSE = -8.0F;
static const float CONTOUR_TRUST = 0.45F, CONTOUR_GIVEN = 0.3F; /* the tables overrate how alike tunes are */
static const float OPENING_TRUST = 0.75F;
static const float ACCENT_TRUST = 0.2F; /* that the louder note is on the stronger place */
static const float PROVED = 1.1F, DISPROVED = -1.2F;
static const float STRETCH = 0.15F,
                   LOG_STRETCH = -1.6F; /* a note longer or shorter than the tempo would have it */
static const float LOG_FIRST_STOP = -0.7F;
static const float RESTART_ONSET = 2.0F, RESTART_FITS = 0.7F, RESTART_MISFITS = 2.0F;
static const float LOG_RESTART = -20.0F, RESTART_NOTE = 0.3F, LOG_RESTART_PAUSED = -9.5F,
                   RESTART_NOTE_PAUSED = 1.6F;

static void offer(struct pool *pool, struct candidate c)
{
    if (!(c.score > pool->best - KEEP_WITHIN) || pool->count == CANDIDATES) return;
    if (c.score > pool->best) pool->best = c.score;
    pool->list[pool->count++] = c;
}

/* Squared deviations from the usual tempo; far out, one tempo is as unusual as another. */
static float unusual_tempo(float log_off)
{
    float z2 = log_off * log_off / (TEMPO_SPREAD * TEMPO_SPREAD);
    return z2 < TEMPO_FAR ? z2 : TEMPO_FAR + TEMPO_BEYOND * (z2 - TEMPO_FAR);
}

static float hold_evidence(const struct us_follower *f, const struct news *news, float log_written)
{
    if (news->held) return 0.0F;
    float off = news->log_hold - log_written - f->hold_mean;
    float fits = -off * off * news->half_per_hold_var - news->half_log_hold_var - 1.14F;
    return fits > HOLD_FLOOR ? fits : HOLD_FLOOR;
}

/* What the first interval says about a pickup. */
static float opening_fits(const struct us_follower *f, const struct us_follower_guess *g,
                          const struct news *news)
{
    if (news->opening < 0 || f->settings.pickup >= 0) return 0.0F;
    return OPENING_TRUST / 16.0F * (float)opening_evidence(&f->metres[g->metre], g->ticks, news->opening);
}

/* The second note: in time, which says what the tempo is; or after a stop, and then the tempo is a usual one.
 */
static void expand_unknown_tempo(const struct us_follower *f, uint16_t index, const struct news *news,
                                 struct pool *pool)
{
    const struct us_follower_guess *g = &f->guesses[f->side][index];
    const int8_t *row = rhythm_row(&f->metres[g->metre], g->ticks, g->last_step);
    float opened = g->score + opening_fits(f, g, news);
    for (uint8_t k = 0; k < RHYTHM_STEPS; k++) {
        float log_quarter = news->log_gap - LOG_STEP_QUARTERS[k], centre = news->tempo_centre;
        float base = opened + RHYTHM_TRUST * (float)row[k] / 16.0F;
        struct candidate c = {.parent = index, .how = HOW_FIRST, .step = k};
        if (log_quarter > -1.6F && log_quarter < 0.92F) {
            c.score =
                base - 0.5F * unusual_tempo(log_quarter - centre) + hold_evidence(f, news, news->log_gap);
            offer(pool, c);
        }
        float stop_s = news->gap_s - STEP_QUARTERS[k] * expf(centre);
        if (stop_s < 0.25F) continue;
        c.how = HOW_HESITATED;
        c.score = base + LOG_HESITATION - HESITATION_FALL * quick_log(1 + stop_s * (1 / HESITATION_S)) +
                  news->log_gap + LOG_FIRST_STOP + hold_evidence(f, news, centre + LOG_STEP_QUARTERS[k]);
        offer(pool, c);
    }
}

/* Who stops or strikes again does so at any time: near a half quarter another reading is likelier. */
static bool by_chance_in_time(const struct us_follower_guess *g, const struct news *news)
{
    float halves = 2 * (float)(news->at_s - g->phase_s) / g->quarter_s;
    return fabsf(halves - floorf(halves + 0.5F)) < OUT_OF_TIME;
}

/* What a note struck again gains where the strain that is being played again goes on otherwise, and where
   the tune repeats few notes. */
static float twice_rather(const struct us_follower *f, const struct us_follower_guess *g,
                          const struct news *news)
{
    float rather = -TWICE_RARE * quick_log(f->repeats / USUAL_REPEATS);
    if (replay_step(f, g) > 0)
        rather += f->notes[((uint32_t)g->replay + 1) % US_FOLLOWER_NOTES].pitch == news->pitch ? -TWICE_ALIKE
                                                                                               : TWICE_UNLIKE;
    return rather;
}

static void expand_small_gaps(const struct us_follower *f, uint16_t index, const struct news *news,
                              struct pool *pool)
{
    const struct us_follower_guess *g = &f->guesses[f->side][index];
    struct candidate c = {.parent = index, .step = NO_STEP};
    if (news->gap_s < 0.16F) { /* a grace note, or a turn around the note before */
        c.how = HOW_ORNAMENT;
        c.score = g->score + LOG_ORNAMENT;
        offer(pool, c);
    }
    if (news->gap_s < 0.8F) {
        float z = (news->log_gap - LOG_STUTTER_GAP) / 0.45F;
        c.how = HOW_STUTTERED;
        c.score =
            g->score + LOG_STUTTER + (news->same_pitch ? 0.0F : STUTTER_OTHER) - 0.5F * z * z - news->log_gap;
        offer(pool, c);
    }
    if (news->same_pitch && news->gap_s < TWICE_WITHIN_S) { /* struck again, to be heard better */
        float z = (news->log_gap - LOG_TWICE_GAP) / TWICE_GAP_SPREAD;
        c.how = HOW_STUTTERED;
        c.score = g->score + LOG_TWICE + twice_rather(f, g, news) +
                  (by_chance_in_time(g, news) ? LOG_TWICE_IN_TIME : 0.0F) - 0.5F * z * z - news->log_gap;
        offer(pool, c);
    }
}

/* How well the last few onsets keep the rhythm that the same notes had before. */
static float rhythm_fits(const struct us_follower *f, const struct us_follower_guess *g,
                         const struct us_follower_echo *echo)
{
    float fits = RESTART_ONSET;
    for (uint32_t i = 0; i + 1 < echo->length && i < 5; i++) {
        uint32_t there = echo->note - i, here = f->note_count - 1 - i;
        float step = (float)(int16_t)(g->note_ticks[there % US_FOLLOWER_NOTES] -
                                      g->note_ticks[(there - 1) % US_FOLLOWER_NOTES]);
        float gap_s =
            (float)(f->notes[here % US_FOLLOWER_NOTES].at_s - f->notes[(here - 1) % US_FOLLOWER_NOTES].at_s);
        float off = gap_s - step / US_FOLLOWER_TICKS * g->quarter_s;
        fits += fabsf(off) < 0.03F + 0.12F * gap_s ? RESTART_FITS : -RESTART_MISFITS;
    }
    return fits;
}

/* The player goes back to a place where these notes were before. */
static void expand_restarts(const struct us_follower *f, uint16_t index, struct pool *pool)
{
    const struct us_follower_guess *g = &f->guesses[f->side][index];
    int32_t bar = f->metres[g->metre].bar_ticks;
    for (int i = 0; i < f->echo_count; i++) {
        const struct us_follower_echo *e = &f->echoes[i];
        if (g->replay >= 0 && e->note == (uint32_t)g->replay + 1) continue; /* it goes on there anyway */
        int32_t back = (int16_t)(g->ticks - g->note_ticks[e->note % US_FOLLOWER_NOTES]);
        struct candidate c = {.parent = index, .how = HOW_RESTARTED, .step = NO_STEP};
        c.jump_ticks = wrap(-back, bar);
        c.again = e->note;
        float weight = e->weight < 8 ? e->weight : 8;
        c.score = g->score + (e->paused ? LOG_RESTART_PAUSED + RESTART_NOTE_PAUSED * weight
                                        : LOG_RESTART + RESTART_NOTE * weight);
        if (c.score + 6 < pool->best - KEEP_WITHIN) continue;
        c.score += rhythm_fits(f, g, e);
        offer(pool, c);
    }
}

/* After a stop: the note is the one of the last bar line, of the line before or of the start, and may be
 * meant so.
 */
static void expand_lines(const struct us_follower *f, uint16_t index, const struct news *news,
                         struct pool *pool)
{
    const struct us_follower_guess *g = &f->guesses[f->side][index];
    int32_t bar = f->metres[g->metre].bar_ticks;
    float stop_s = news->gap_s - 0.5F * g->quarter_s;
    if (stop_s < LINE_STOP_S) return;
    struct candidate c = {.parent = index, .how = HOW_RESTARTED, .step = NO_STEP};
    c.score = g->score + LOG_LINE_AGAIN + LOG_HESITATION +
              (by_chance_in_time(g, news) ? LINE_IN_TIME : 0.0F) -
              HESITATION_FALL * quick_log(1 + stop_s * (1 / HESITATION_S));
    /* Nothing stopped there. */
    if (news->gap_s < 1.2F * g->quarter_s) c.score += LINE_NEXT_QUARTER;
    uint32_t oldest = f->note_count >= US_FOLLOWER_NOTES ? f->note_count - US_FOLLOWER_NOTES + 1 : 0;
    bool start = g->start_note >= oldest;
    for (uint32_t i = f->note_count - 1; i-- > (start ? g->start_note : oldest);) {
        int32_t back = (int16_t)(g->ticks - g->note_ticks[i % US_FOLLOWER_NOTES]);
        if (back >= 2 * bar) { /* only the start is left */
            if (!start) return;
            i = g->start_note;
            back = (int16_t)(g->ticks - g->note_ticks[i % US_FOLLOWER_NOTES]);
        }
        if (wrap(g->ticks - back, bar) != 0 && (!start || i != g->start_note)) continue;
        if (f->notes[i % US_FOLLOWER_NOTES].pitch != news->pitch) continue;
        c.jump_ticks = wrap(-back, bar);
        c.again = i;
        offer(pool, c);
    }
}

/* After a long pause the tune, or another one, may begin. */
static void expand_starts(const struct us_follower *f, uint16_t index, const struct news *news,
                          struct pool *pool)
{
    const struct us_follower_guess *g = &f->guesses[f->side][index];
    bool known = f->note_count - g->start_note < US_FOLLOWER_NOTES &&
                 f->notes[g->start_note % US_FOLLOWER_NOTES].pitch == news->pitch;
    struct candidate c = {.parent = index, .how = HOW_STARTED, .step = NO_STEP, .metre = g->metre};
    float base = g->score + LOG_START_OVER + (news->after_end ? 0.0F : START_AFTER_PAUSE);
    c.to_ticks = g->start_ticks;
    c.score = base + (known ? START_KNOWN : 0.0F);
    offer(pool, c);
    if (f->settings.pickup >= 0 || index != f->best) return;
    for (c.metre = 0; c.metre < f->metre_count; c.metre++) {
        for (int i = 0; i < PICKUPS; i++) {
            c.to_ticks = -(int32_t)PICKUP[i].ticks;
            c.score = base + START_OTHER + f->metres[c.metre].log_prior + PICKUP[i].log_prior;
            if (-c.to_ticks < f->metres[c.metre].bar_ticks) offer(pool, c);
        }
    }
}

static inline float variance_at(const struct us_follower *f, const struct us_follower_guess *g,
                                float quarters)
{
    return g->var_phase + quarters * (2 * g->covariance + quarters * g->var_quarter) +
           quarters * PHASE_DRIFT_S * PHASE_DRIFT_S + f->jitter_s * f->jitter_s;
}

float predicted_variance(const struct us_follower *f, const struct us_follower_guess *g, float quarters)
{
    return variance_at(f, g, quarters);
}

/* The step that a strain heard before lets expect, in ticks; 0 where none. */
int32_t replay_step(const struct us_follower *f, const struct us_follower_guess *g)
{
    if (g->replay < 0 || f->note_count - (uint32_t)g->replay >= US_FOLLOWER_NOTES) return 0;
    uint32_t at = (uint32_t)g->replay % US_FOLLOWER_NOTES, after = (at + 1) % US_FOLLOWER_NOTES;
    return (int16_t)(g->note_ticks[after] - g->note_ticks[at]);
}

/* What one guess expects of the next onset. */
struct outlook {
    const struct us_follower_guess *guess;
    uint16_t index;
    float score, since_s, log_quarter;
    int32_t again; /* the step of the strain that is being played again, or 0 */
    float again_sure, other;
    bool dotted, lilting; /* uneven quarters have been played, and one may begin here */
    float log_dotted, log_lilting, log_even;
};

/* Whether a score that lacks the density of its onset may be kept: so that what cannot be is not worked out.
 */
static bool may_be_kept(const struct pool *pool, float score)
{
    return score + pool->rise > pool->best - KEEP_WITHIN;
}

/* The candidate's score lacks the rest of a normal density. */
static void offer_density(struct pool *pool, struct candidate c, float variance)
{
    if (!may_be_kept(pool, c.score)) return;
    c.score = c.score - 0.5F * quick_log(variance) - HALF_LOG_TWO_PI;
    offer(pool, c);
}

/* One step as the next note's length: in time, stretched, or after a hesitation. */
static void expand_step(const struct us_follower *f, const struct outlook *o, const struct news *news,
                        uint8_t k, float error, float base, struct pool *pool)
{
    float quarters = STEP_QUARTERS[k], off2 = error * error;
    float stretch = STRETCH * quarters * o->guess->quarter_s, wide = stretch * stretch;
    struct candidate c = {.error_s = error, .parent = o->index, .how = HOW_HESITATED, .step = k};
    base += hold_evidence(f, news, o->log_quarter + LOG_STEP_QUARTERS[k]);
    if (!may_be_kept(pool, base)) return;
    if (error > 0.12F) {
        c.score = base + LOG_HESITATION;
        if (c.score > pool->best - KEEP_WITHIN) {
            c.score -= HESITATION_FALL * quick_log(1 + error * (1 / HESITATION_S));
            offer(pool, c);
        }
        if (off2 > 40 * wide) return;
    }
    float variance = variance_at(f, o->guess, quarters);
    if (off2 < 20 * variance) {
        c.how = HOW_PLAYED;
        c.score = base - 0.5F * off2 / variance;
        offer_density(pool, c, variance);
    }
    wide += variance;
    if (off2 > 4 * variance && off2 < 8 * wide) {
        c.how = HOW_STRETCHED;
        c.score = base + LOG_STRETCH - 0.5F * off2 / wide;
        offer_density(pool, c, wide);
    }
}

/* How strong a place is: above nothing where accents are more likely than elsewhere. */
static float strength_of(const struct us_follower_metre *m, int32_t ticks)
{
    int32_t place = wrap(ticks, m->bar_ticks);
    return place == 0 ? 1.0F : place % m->beat_ticks == 0 ? 0.3F : -0.4F;
}

static struct outlook look_out(const struct us_follower *f, uint16_t index, const struct news *news)
{
    const struct us_follower_guess *g = &f->guesses[f->side][index];
    struct outlook o = {.guess = g, .index = index, .score = g->score, .again = replay_step(f, g)};
    bool alike = o.again > 0 && f->notes[((uint32_t)g->replay + 1) % US_FOLLOWER_NOTES].pitch == news->pitch;
    o.again_sure = alike ? REPLAY_SURE : REPLAY_DOUBT;
    o.other = o.again > 0 ? quick_log(1 - o.again_sure) : 0.0F;
    o.since_s = (float)(news->at_s - g->phase_s);
    o.log_quarter = quick_log(g->quarter_s);
    float unusual = unusual_tempo(o.log_quarter - news->tempo_centre);
    o.score -= (f->tempo_guess_s > 0 ? TEMPO_PULL_GIVEN : TEMPO_PULL) * unusual;
    float trust = f->metre_count == 1 && f->settings.pickup >= 0 ? CONTOUR_GIVEN : CONTOUR_TRUST;
    if (news->contour >= 0)
        o.score += trust / 16.0F * (float)contour_evidence(&f->metres[g->metre], g->ticks, news->contour);
    o.score += opening_fits(f, g, news);
    o.score += ACCENT_TRUST * news->accent * strength_of(&f->metres[g->metre], g->ticks);
    if (g->proof && o.again > 0) o.score += alike ? PROVED : DISPROVED;
    return o;
}

/* A tune that has uneven quarters has many. */
static void look_for_uneven(const struct us_follower *f, struct outlook *o)
{
    const struct us_follower_guess *g = o->guess;
    float not_dotted = 0, not_lilting = 0;
    if (!(g->dotted | g->lilting) || !rhythm_on_quarter(&f->metres[g->metre], g->ticks)) return;
    o->dotted = rhythm_uneven_again(g->dotted, &o->log_dotted, &not_dotted);
    /* Where the metre is open, a lilt speaks for 6/8. */
    if (f->metre_count == 1) o->lilting = rhythm_uneven_again(g->lilting, &o->log_lilting, &not_lilting);
    o->log_even = not_dotted + not_lilting;
}

/* How likely, as a logarithm, the next note comes after so long by the habits of tunes and of this one. */
static float usual_step(const struct outlook *o, uint8_t k, const int8_t *row)
{
    if (o->dotted && RHYTHM_TICKS[k] == DOTTED_TICKS) return o->log_dotted;
    if (o->lilting && RHYTHM_TICKS[k] == LILTING_TICKS) return o->log_lilting;
    return RHYTHM_TRUST / 16.0F * (float)row[k] + o->log_even;
}

static void expand_known_tempo(const struct us_follower *f, uint16_t index, const struct news *news,
                               struct pool *pool)
{
    const struct us_follower_guess *g = &f->guesses[f->side][index];
    const int8_t *row = rhythm_row(&f->metres[g->metre], g->ticks, g->last_step);
    struct outlook o = look_out(f, index, news);
    look_for_uneven(f, &o);
    for (uint8_t k = 0; k < RHYTHM_STEPS; k++) {
        float length_s = STEP_QUARTERS[k] * g->quarter_s, error = o.since_s - length_s;
        if (-error > 0.42F * length_s && error * error > 20 * variance_at(f, g, STEP_QUARTERS[k])) break;
        float usual = usual_step(&o, k, row) + o.other;
        if (RHYTHM_TICKS[k] == o.again) usual = quick_log(expf(usual) + o.again_sure);
        if (o.score + usual > pool->best - KEEP_WITHIN - 4)
            expand_step(f, &o, news, k, error, o.score + usual, pool);
    }
    expand_small_gaps(f, index, news, pool);
    if (g->score < -4) return;
    expand_restarts(f, index, pool);
    expand_lines(f, index, news, pool);
    float bar_s = g->quarter_s * (float)f->metres[g->metre].bar_ticks / US_FOLLOWER_TICKS;
    if (news->after_end || news->gap_s > fmaxf(1.2F, bar_s)) expand_starts(f, index, news, pool);
}

void expand_all(const struct us_follower *f, const struct news *news, struct pool *pool)
{
    static const float NO_WEIGHT = -1e9F;
    pool->count = 0;
    pool->best = NO_WEIGHT;
    /* No onset is foretold more exactly than the player is exact; a little more for the quick logarithm. */
    pool->rise = -quick_log(f->jitter_s) - HALF_LOG_TWO_PI + 0.01F;
    for (uint16_t i = 0; i < f->guess_count; i++) {
        if (f->guesses[f->side][i].score < TOO_WEAK) continue;
        if (f->guesses[f->side][i].quarter_s > 0)
            expand_known_tempo(f, i, news, pool);
        else
            expand_unknown_tempo(f, i, news, pool);
    }
}
