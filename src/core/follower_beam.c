/* The hypotheses: each onset carries every guess on in all the ways in which it may have been meant, and the
   best of them live on.  Tempo and phase of a guess are a two-state Kalman filter. */
#include "follower_parts.h"

#include <math.h>
#include <string.h>

enum { CANDIDATES = 1536, BUCKETS = 64, KEYS = 512 };

static const float KEEP_WITHIN = 14.0F; /* nepers below the best */
static const float HALF_LOG_TWO_PI = 0.9189385F;
static const float TEMPO_CENTRE_S = 0.65F, TEMPO_SPREAD = 0.30F; /* a quarter, and its log's deviation */
static const float TEMPO_DRIFT = 0.022F;                         /* a quarter, relative */
static const float PHASE_DRIFT_S = 0.006F;
static const float HESITATION_MEAN_S = 0.9F;
static const float LOG_HESITATION = -3.7F, LOG_STUTTER = -4.6F, LOG_ORNAMENT = -4.5F;

struct candidate {
    float score, error_s, step_quarters;
    uint16_t parent;
    uint8_t how, step;
};

struct pool {
    struct candidate list[CANDIDATES];
    int count;
    float best;
};

static void offer(struct pool *pool, struct candidate c)
{
    if (c.score < pool->best - KEEP_WITHIN || pool->count == CANDIDATES) return;
    if (c.score > pool->best) pool->best = c.score;
    pool->list[pool->count++] = c;
}

/* ---- the first note ---- */

static void add_start(struct us_follower *f, int metre, int32_t ticks, float log_prior)
{
    if (f->guess_count >= US_FOLLOWER_GUESSES) return;
    struct us_follower_guess *g = &f->guesses[f->side][f->guess_count++];
    memset(g, 0, sizeof *g);
    g->phase_s = newest_note(f)->at_s;
    g->var_phase = f->jitter_s * f->jitter_s;
    if (f->tempo_guess_s > 0) {
        g->quarter_s = f->tempo_guess_s;
        g->var_quarter = 0.0225F * g->quarter_s * g->quarter_s;
    }
    g->score = log_prior;
    g->ticks = ticks;
    g->metre = (uint8_t)metre;
    g->last_step = NO_STEP;
    g->how = HOW_FIRST;
    g->replay = -1;
    g->recent_ticks[(f->note_count - 1) % US_FOLLOWER_RECENT] = (int16_t)ticks;
}

void beam_begin(struct us_follower *f)
{
    static const struct {
        uint8_t ticks;
        float log_prior;
    } PICKUPS[] = {{0, -1.0F}, {24, -1.2F}, {12, -1.8F}, {48, -3.2F}, {36, -3.5F}, {72, -4.0F}};
    f->guess_count = 0;
    for (int m = 0; m < f->metre_count; m++) {
        const struct us_follower_metre *metre = &f->metres[m];
        if (f->settings.pickup >= 0) {
            add_start(f, m, -(int32_t)lround(f->settings.pickup * US_FOLLOWER_TICKS), metre->log_prior);
            continue;
        }
        for (size_t i = 0; i < sizeof PICKUPS / sizeof *PICKUPS; i++)
            if (PICKUPS[i].ticks < metre->bar_ticks)
                add_start(f, m, -(int32_t)PICKUPS[i].ticks, metre->log_prior + PICKUPS[i].log_prior);
    }
    f->best = 0;
    for (uint16_t i = 1; i < f->guess_count; i++)
        if (f->guesses[f->side][i].score > f->guesses[f->side][f->best].score) f->best = i;
    f->sure = 0;
}

/* ---- later notes ---- */

/* What the newest note tells, the same for all guesses. */
struct news {
    double at_s;
    float gap_s;    /* since the onset before */
    float log_hold; /* logarithm of the length for which the last key was held; 0 with `held` */
    bool held;      /* that key was still down */
    bool same_pitch;
};

static float hold_evidence(const struct us_follower *f, const struct news *news, float log_written)
{
    if (news->held) return 0.0F;
    float z2 = (news->log_hold - log_written - f->hold_mean);
    z2 = z2 * z2 / f->hold_var;
    float fits = -0.5F * z2 - 0.5F * logf(f->hold_var) - 1.14F;
    return fits > -2.5F ? fits : -2.5F;
}

static void expand_unknown_tempo(const struct us_follower *f, uint16_t index, const struct news *news,
                                 struct pool *pool)
{
    const struct us_follower_guess *g = &f->guesses[f->side][index];
    const int8_t *row = rhythm_row(&f->metres[g->metre], g->ticks, g->last_step);
    for (uint8_t k = 0; k < RHYTHM_STEPS; k++) {
        float quarters = (float)RHYTHM_TICKS[k] / US_FOLLOWER_TICKS;
        float quarter_s = news->gap_s / quarters;
        if (quarter_s < 0.2F || quarter_s > 2.5F) continue;
        float z = logf(quarter_s / TEMPO_CENTRE_S) / TEMPO_SPREAD;
        float score =
            g->score + (float)row[k] / 16.0F - 0.5F * z * z + hold_evidence(f, news, logf(news->gap_s));
        offer(pool, (struct candidate){score, 0, quarters, index, HOW_FIRST, k});
    }
}

static void expand_small_gaps(const struct us_follower *f, uint16_t index, const struct news *news,
                              struct pool *pool)
{
    const struct us_follower_guess *g = &f->guesses[f->side][index];
    if (news->gap_s < 0.16F) /* a grace note, or a turn around the note before */
        offer(pool,
              (struct candidate){g->score + LOG_ORNAMENT + 1.8F, 0, 0, index, HOW_ORNAMENT, g->last_step});
    if (news->gap_s < 0.8F) {
        float z = logf(news->gap_s / 0.27F) / 0.45F;
        float pitch = news->same_pitch ? 0.0F : -2.5F;
        offer(pool, (struct candidate){g->score + LOG_STUTTER + pitch - 0.5F * z * z - logf(news->gap_s), 0,
                                       0, index, HOW_STUTTERED, g->last_step});
    }
}

static float predicted_variance(const struct us_follower *f, const struct us_follower_guess *g,
                                float quarters)
{
    return g->var_phase + quarters * (2 * g->covariance + quarters * g->var_quarter) +
           quarters * PHASE_DRIFT_S * PHASE_DRIFT_S + f->jitter_s * f->jitter_s;
}

static void expand_known_tempo(const struct us_follower *f, uint16_t index, const struct news *news,
                               struct pool *pool)
{
    const struct us_follower_guess *g = &f->guesses[f->side][index];
    const int8_t *row = rhythm_row(&f->metres[g->metre], g->ticks, g->last_step);
    float since_s = (float)(news->at_s - g->phase_s), log_quarter = logf(g->quarter_s);
    static const float HESITATION_SHARE = 1.0F;
    for (uint8_t k = 0; k < RHYTHM_STEPS; k++) {
        float quarters = (float)RHYTHM_TICKS[k] / US_FOLLOWER_TICKS;
        float error = since_s - quarters * g->quarter_s;
        float variance = predicted_variance(f, g, quarters);
        if (error < 0 && error * error > 20 * variance) break;
        float base = g->score + (float)row[k] / 16.0F;
        if (base < pool->best - KEEP_WITHIN - 4) continue;
        base += hold_evidence(f, news, log_quarter + logf(quarters));
        if (error * error < 20 * variance)
            offer(pool, (struct candidate){base - 0.5F * error * error / variance - 0.5F * logf(variance) -
                                               HALF_LOG_TWO_PI,
                                           error, quarters, index, HOW_PLAYED, k});
        if (error > 0.12F)
            offer(pool,
                  (struct candidate){base + LOG_HESITATION * HESITATION_SHARE - error / HESITATION_MEAN_S,
                                     error, quarters, index, HOW_HESITATED, k});
    }
    expand_small_gaps(f, index, news, pool);
}

/* ---- who lives on ---- */

static void update_clock(const struct us_follower *f, struct us_follower_guess *g, const struct candidate *c,
                         double at_s)
{
    float noise = f->jitter_s * f->jitter_s, n = c->step_quarters;
    if (c->how == HOW_ORNAMENT) return;
    if (c->how == HOW_FIRST) {
        g->quarter_s = (float)(at_s - g->phase_s) / n;
        g->phase_s = at_s;
        g->var_phase = noise;
        g->covariance = noise / n;
        g->var_quarter = 2 * noise / (n * n);
        return;
    }
    float drift = TEMPO_DRIFT * g->quarter_s;
    g->var_phase = predicted_variance(f, g, n) - noise;
    g->covariance += n * g->var_quarter;
    g->var_quarter += n * drift * drift;
    if (c->how == HOW_PLAYED) {
        float total = g->var_phase + noise, gain = g->var_phase / total, gain_tempo = g->covariance / total;
        g->phase_s += (double)(n * g->quarter_s + gain * c->error_s);
        g->quarter_s = fminf(3.0F, fmaxf(0.15F, g->quarter_s + gain_tempo * c->error_s));
        g->var_quarter -= gain_tempo * g->covariance;
        g->var_phase *= 1 - gain;
        g->covariance *= 1 - gain;
    } else { /* a new start: the clock begins here */
        g->phase_s = at_s;
        g->var_phase = noise;
        g->covariance = 0;
        g->var_quarter += drift * drift;
    }
}

static struct us_follower_guess child_of(const struct us_follower *f, const struct candidate *c, double at_s)
{
    struct us_follower_guess g = f->guesses[f->side][c->parent];
    update_clock(f, &g, c, at_s);
    g.score = c->score;
    g.how = c->how;
    g.last_step = c->step;
    g.ticks += (int32_t)(c->step_quarters * US_FOLLOWER_TICKS + 0.5F);
    g.recent_ticks[(f->note_count - 1) % US_FOLLOWER_RECENT] = (int16_t)g.ticks;
    return g;
}

/* Guesses that agree in metre, place and tempo are one. */
static uint32_t key_of(const struct us_follower *f, const struct us_follower_guess *g)
{
    uint32_t place = (uint32_t)wrap(g->ticks, f->metres[g->metre].bar_ticks);
    uint32_t tempo = (uint32_t)(int32_t)(logf(g->quarter_s) * 16.0F + 64.0F);
    return (place * 64 + tempo) * 8 + g->metre + 1;
}

static float add_logs(float a, float b)
{
    float high = a > b ? a : b, low = a > b ? b : a;
    return high - low > 10 ? high : high + log1pf(expf(low - high));
}

static void keep(struct us_follower *f, const struct pool *pool, const uint16_t *order, int count,
                 double at_s)
{
    uint32_t keys[KEYS] = {0};
    uint16_t where[KEYS];
    struct us_follower_guess *next = f->guesses[!f->side];
    uint16_t kept = 0;
    for (int i = 0; i < count && kept < US_FOLLOWER_GUESSES; i++) {
        struct us_follower_guess g = child_of(f, &pool->list[order[i]], at_s);
        uint32_t key = key_of(f, &g), at = key * 2654435761U >> 23;
        while (keys[at] && keys[at] != key)
            at = (at + 1) % KEYS;
        if (keys[at]) {
            next[where[at]].score = add_logs(next[where[at]].score, g.score);
        } else {
            keys[at] = key;
            where[at] = kept;
            next[kept++] = g;
        }
    }
    f->side = !f->side;
    f->guess_count = kept;
}

/* Orders the pool by falling score, in steps of a quarter neper. */
static int order_pool(const struct pool *pool, uint16_t *order)
{
    uint16_t ends[BUCKETS + 1] = {0};
    for (int i = 0; i < pool->count; i++) {
        int b = (int)((pool->best - pool->list[i].score) * 4.0F);
        if (b < BUCKETS) ends[b + 1]++;
    }
    for (int b = 0; b < BUCKETS; b++)
        ends[b + 1] = (uint16_t)(ends[b + 1] + ends[b]);
    int total = ends[BUCKETS];
    for (int i = 0; i < pool->count; i++) {
        int b = (int)((pool->best - pool->list[i].score) * 4.0F);
        if (b < BUCKETS) order[ends[b]++] = (uint16_t)i;
    }
    return total;
}

/* The guess of the place that has most weight, and that weight. */
static void choose(struct us_follower *f)
{
    struct us_follower_guess *all = f->guesses[f->side];
    float top = -INFINITY, total = 0, best_mass = -1;
    for (int i = 0; i < f->guess_count; i++)
        top = fmaxf(top, all[i].score);
    float weight[US_FOLLOWER_GUESSES];
    for (int i = 0; i < f->guess_count; i++) {
        all[i].score -= top;
        weight[i] = expf(all[i].score);
        total += weight[i];
    }
    for (int i = 0; i < f->guess_count; i++) {
        int32_t place = wrap(all[i].ticks, f->metres[all[i].metre].bar_ticks);
        float mass = 0;
        for (int j = 0; j < f->guess_count; j++)
            if (all[j].metre == all[i].metre &&
                wrap(all[j].ticks, f->metres[all[j].metre].bar_ticks) == place)
                mass += weight[j];
        if (mass > best_mass * 1.0001F) {
            best_mass = mass;
            f->best = (uint16_t)i;
        }
    }
    f->sure = best_mass / total;
}

/* How exact the player is and how keys are held, from the way the best guess was reached. */
static void learn_player(struct us_follower *f, const struct news *news, float error_s, float step_s)
{
    const struct us_follower_guess *g = best_guess(f);
    if (g->how == HOW_PLAYED && f->note_count > 6) {
        float variance = f->jitter_s * f->jitter_s;
        variance += 0.03F * (fminf(error_s * error_s, 0.01F) * 0.6F - variance);
        f->jitter_s = fminf(0.055F, fmaxf(0.012F, sqrtf(variance)));
    }
    if (!news->held && step_s > 0 && g->how != HOW_ORNAMENT) {
        float off = news->log_hold - logf(step_s) - f->hold_mean;
        if (fabsf(off) > 1) return;
        f->hold_mean += 0.08F * off;
        f->hold_var = fmaxf(0.02F, f->hold_var + 0.08F * (off * off - f->hold_var));
    }
}

void beam_advance(struct us_follower *f)
{
    static const float NO_WEIGHT = -1e9F;
    const struct us_follower_note *note = newest_note(f);
    const struct us_follower_note *last = &f->notes[(f->note_count - 2) % US_FOLLOWER_NOTES];
    struct news news = {.at_s = note->at_s,
                        .gap_s = (float)(note->at_s - last->at_s),
                        .held = last->off_s < 0,
                        .same_pitch = note->pitch == last->pitch};
    if (!news.held) news.log_hold = logf(fmaxf(0.01F, (float)(last->off_s - last->at_s)));
    struct pool pool;
    pool.count = 0;
    pool.best = NO_WEIGHT;
    for (uint16_t i = 0; i < f->guess_count; i++) {
        if (f->guesses[f->side][i].quarter_s > 0)
            expand_known_tempo(f, i, &news, &pool);
        else
            expand_unknown_tempo(f, i, &news, &pool);
    }
    uint16_t order[CANDIDATES];
    int count = order_pool(&pool, order);
    if (!count) return;
    keep(f, &pool, order, count, note->at_s);
    choose(f);
    const struct us_follower_guess *g = best_guess(f);
    float step_s =
        g->last_step == NO_STEP ? 0 : (float)RHYTHM_TICKS[g->last_step] / US_FOLLOWER_TICKS * g->quarter_s;
    learn_player(f, &news, (float)(note->at_s - g->phase_s), step_s);
}
