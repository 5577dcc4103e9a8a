/* How one onset may be read: every guess is carried on in all the ways in which the note may have been meant.
 */
#include "follower_parts.h"

#include <math.h>

static const float TOO_WEAK = -9.0F; /* a guess so far below the best is not carried on */
static const float HALF_LOG_TWO_PI = 0.9189385F;
static const float TEMPO_SPREAD = 0.2F, TEMPO_FAR = 8.0F, TEMPO_BEYOND = 0.3F; /* of the logarithm */
static const float TEMPO_PULL = 0.024F,
                   TEMPO_PULL_GIVEN = 0.1F; /* how much each onset leans to a usual tempo */
static const float RHYTHM_TRUST = 1.06F;    /* the tables overrate how alike tunes are */
static const float LOG_STUTTER_GAP = -1.31F, STUTTER_OTHER = -6.0F, LOG_STUTTER = -3.22F;
static const float LOG_TWICE_GAP = -0.5F, TWICE_GAP_SPREAD = 0.4F, LOG_TWICE = -3.0F, TWICE_WITHIN_S = 1.4F;
static const float TWICE_RARE = 1.0F, TWICE_ALIKE = 1.0F, TWICE_UNLIKE = 1.0F, USUAL_REPEATS = 0.16F;
static const float LOG_TWICE_IN_TIME = -1.0F, OUT_OF_TIME = 0.2F; /* of a half quarter */
static const float HOLD_FLOOR = -4.0F;                            /* keys are let go early at times */
/* An ornament: after its note, at once; going on; with the same key. */
static const float ORNAMENT_S = 0.16F, LOG_ORNAMENT = -1.9F, LOG_ORNAMENT_ON = -0.5F, ORNAMENT_SAME = -1.5F,
                   ORNAMENT_TRILLS = 3.0F;
/* A grace note comes so long before its note, is softer than others, and may be one of two. */
static const float GRACE_S = 0.07F, GRACE_SPREAD_S = 0.020F, LOG_GRACE_SPREAD = -3.912F, GRACE_SOFT = 0.7F,
                   LOG_GRACE_TWO = -1.5F, GRACE_SAME = -2.5F, GRACE_LOST = -9.0F, LOG_FIRST_GRACE = -2.0F;
static const float ADORNED_HOLD = -0.9F; /* for hold_evidence(), where the last key was an ornament's */
static const float REPLAY_SURE = 0.78F,
                   REPLAY_DOUBT = 0.3F; /* that a strain comes back with the same rhythm */
static const float CONTOUR_TRUST = 0.45F, CONTOUR_GIVEN = 0.3F; /* the tables overrate how alike tunes are */
static const float OPENING_TRUST = 0.75F;
static const float ACCENT_TRUST = 0.2F; /* that the louder note is on the stronger place */
static const float PROVED = 1.1F, DISPROVED = -2.0F;
static const float STRETCH = 0.15F,
                   LOG_STRETCH = -1.6F; /* a note longer or shorter than the tempo would have it */
static const float LOG_FIRST_STOP = -0.7F, STOP_S = 0.25F; /* too long for a note that is only leaned on */

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
    if (news->gap_s < ORNAMENT_S)
        offer(pool, (struct candidate){.score = g->score + LOG_FIRST_GRACE,
                                       .parent = index,
                                       .how = HOW_ORNAMENT,
                                       .step = NO_STEP});
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
        c.score = base + log_stop(stop_s) + news->log_gap + LOG_FIRST_STOP +
                  hold_evidence(f, news, centre + LOG_STEP_QUARTERS[k]);
        offer(pool, c);
    }
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

/* Who strikes again does so at any time: near a half quarter another reading is likelier. */
static bool by_chance_in_time(const struct us_follower_guess *g, const struct news *news)
{
    float halves = 2 * (float)(news->at_s - g->phase_s) / g->quarter_s;
    return fabsf(halves - floorf(halves + 0.5F)) < OUT_OF_TIME;
}

static void expand_small_gaps(const struct us_follower *f, uint16_t index, const struct news *news,
                              struct pool *pool)
{
    const struct us_follower_guess *g = &f->guesses[f->side][index];
    struct candidate c = {.parent = index, .step = NO_STEP};
    if (news->gap_s < ORNAMENT_S && g->how != HOW_GRACE) { /* a turn around the note before */
        c.how = HOW_ORNAMENT;
        c.score = g->score + (g->how == HOW_ORNAMENT ? LOG_ORNAMENT_ON : LOG_ORNAMENT);
        if (g->how == HOW_ORNAMENT && news->trills) c.score += ORNAMENT_TRILLS;
        if (news->same_pitch) c.score += ORNAMENT_SAME;
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

/* The step that a strain heard before lets expect, in ticks; 0 where none, and where the player broke it off.
 */
int32_t replay_step(const struct us_follower *f, const struct us_follower_guess *g)
{
    if (g->back_note && g->replay + 1 == (int64_t)g->back_note) return 0;
    if (g->replay < 0 || f->note_count - (uint32_t)g->replay >= US_FOLLOWER_NOTES) return 0;
    uint32_t at = (uint32_t)g->replay % US_FOLLOWER_NOTES, after = (at + 1) % US_FOLLOWER_NOTES;
    return (int16_t)(g->note_ticks[after] - g->note_ticks[at]);
}

/* What one guess expects of the next onset. */
struct outlook {
    const struct us_follower_guess *guess;
    uint16_t index;
    float score, since_s, log_quarter;
    float stopped; /* the score of the likeliest note after which the player clearly stopped */
    int32_t again; /* the step of the strain that is being played again, or 0 */
    float again_sure, other;
    bool adorned;         /* the last note was an ornament: how long it was held tells nothing */
    bool dotted, lilting; /* uneven quarters have been played, and one may begin here */
    float log_dotted, log_lilting, log_even;
};

static float hold_of_step(const struct us_follower *f, const struct outlook *o, const struct news *news,
                          uint8_t k)
{
    return o->adorned ? ADORNED_HOLD : hold_evidence(f, news, o->log_quarter + LOG_STEP_QUARTERS[k]);
}

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
static void expand_step(const struct us_follower *f, struct outlook *o, const struct news *news, uint8_t k,
                        float error, float base, struct pool *pool)
{
    float quarters = STEP_QUARTERS[k], off2 = error * error;
    float stretch = STRETCH * quarters * o->guess->quarter_s, wide = stretch * stretch;
    struct candidate c = {.error_s = error, .parent = o->index, .how = HOW_HESITATED, .step = k};
    base += hold_of_step(f, o, news, k);
    if (!may_be_kept(pool, base)) return;
    if (error > 0.12F) {
        if (base > pool->best - KEEP_WITHIN) {
            c.score = base + log_stop(error);
            if (error > STOP_S && off2 > 4 * wide) o->stopped = fmaxf(o->stopped, c.score);
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

/* What the gap says about a grace note, now that the next note is there. */
static float grace_fits(const struct us_follower_guess *g, const struct news *news)
{
    if (news->gap_s > ORNAMENT_S) return GRACE_LOST;
    float z = (news->gap_s - GRACE_S) / GRACE_SPREAD_S;
    return -0.5F * z * z - LOG_GRACE_SPREAD - HALF_LOG_TWO_PI - g->foreseen +
           (news->same_pitch ? GRACE_SAME : 0.0F);
}

static struct outlook look_out(const struct us_follower *f, uint16_t index, const struct news *news)
{
    const struct us_follower_guess *g = &f->guesses[f->side][index];
    struct outlook o = {
        .guess = g, .index = index, .score = g->score, .stopped = -INFINITY, .again = replay_step(f, g)};
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
    o.adorned = g->how == HOW_GRACE || g->how == HOW_ORNAMENT;
    if (g->how == HOW_GRACE) o.score += grace_fits(g, news);
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

/* How well a note would fit that came a little later, for which this one is a grace note. */
static float foresee(const struct us_follower *f, const struct outlook *o, const struct news *news, uint8_t k,
                     float error)
{
    float variance = variance_at(f, o->guess, STEP_QUARTERS[k]) + GRACE_SPREAD_S * GRACE_SPREAD_S;
    float late = error + GRACE_S,
          in_time = -0.5F * (late * late / variance + quick_log(variance)) - HALF_LOG_TWO_PI;
    if (late > 0.12F) in_time = fmaxf(in_time, log_stop(late));
    return in_time + hold_of_step(f, o, news, k);
}

static void expand_known_tempo(const struct us_follower *f, uint16_t index, const struct news *news,
                               struct pool *pool)
{
    const struct us_follower_guess *g = &f->guesses[f->side][index];
    const int8_t *row = rhythm_row(&f->metres[g->metre], g->ticks, g->last_step);
    struct outlook o = look_out(f, index, news);
    look_for_uneven(f, &o);
    struct candidate grace = {.parent = index, .step = NO_STEP, .how = HOW_GRACE, .foreseen = -99.0F};
    float is_grace =
        o.score + GRACE_SOFT * news->soft + (g->how == HOW_GRACE ? LOG_GRACE_TWO : quick_log(f->graces));
    for (uint8_t k = 0; k < RHYTHM_STEPS; k++) {
        float length_s = STEP_QUARTERS[k] * g->quarter_s, error = o.since_s - length_s;
        if (-error > 0.42F * length_s && error * error > 20 * variance_at(f, g, STEP_QUARTERS[k])) break;
        float usual = usual_step(&o, k, row) + o.other;
        if (RHYTHM_TICKS[k] == o.again) usual = quick_log(expf(usual) + o.again_sure);
        if (o.score + usual > pool->best - KEEP_WITHIN - 4)
            expand_step(f, &o, news, k, error, o.score + usual, pool);
        if (may_be_kept(pool, is_grace + usual))
            grace.foreseen = fmaxf(grace.foreseen, usual + foresee(f, &o, news, k, error));
    }
    grace.score = is_grace + grace.foreseen;
    offer(pool, grace);
    expand_small_gaps(f, index, news, pool);
    if (g->score < -4) return;
    expand_restarts(f, index, pool);
    if (o.stopped > -INFINITY) expand_lines(f, index, news, o.stopped - o.score, pool);
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
