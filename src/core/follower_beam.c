/* The hypotheses and which of them live on. */
#include "follower_parts.h"

#include <math.h>
#include <stddef.h>
#include <string.h>

enum { BUCKETS = 64, KEYS = 128, PLACES = 256, PROOFS = 6 };

static const float JITTER_RATE = 0.019F, DRIFT_RATE = 0.1F, DRIFT_LEAST = 0.014F, DRIFT_MOST = 0.06F;
static const float TAP_OFF = 0.12F, TAP_MOST = 3.0F; /* of a beat; nepers */
static const float ACCENT = 9.0F;                    /* deviation of how hard keys are struck */
static const float HOLD_RATE = 0.1F, HOLD_LEAST = 0.024F;
static const float REPEAT_RATE = 0.03F, GRACE_RATE = 0.03F, GRACES_LEAST = 0.004F, TRILL_S = 0.125F;
static const float ECHO_MISSED_PAUSED = 1.2F;
static const float ECHO_MISSED = 0.4F; /* a strain comes back elsewhere in the bar: unlikely */
static const float STAY_RATE = 0.1F,
                   STAY_MOST = 12.0F; /* nepers that another metre or tempo must be ahead: a note, at most */

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
        g->var_quarter = 0.008F * g->quarter_s * g->quarter_s;
    }
    g->score = log_prior;
    g->root = f->guess_count;
    g->ticks = g->start_ticks = ticks;
    g->start_note = f->note_count - 1;
    g->metre = (uint8_t)metre;
    g->last_step = NO_STEP;
    g->how = HOW_FIRST;
    g->replay = -1;
    g->note_ticks[(f->note_count - 1) % US_FOLLOWER_NOTES] = (int16_t)ticks;
}

/* Of the first note only this can be guessed: whether it is on a bar line. */
static void choose_start(struct us_follower *f)
{
    const struct us_follower_guess *all = f->guesses[f->side];
    float on_line = beam_belief(f, 0, true);
    f->best = 0;
    for (uint16_t i = 0; i < f->guess_count; i++) {
        bool line = wrap(all[i].ticks, f->metres[all[i].metre].bar_ticks) == 0;
        bool wanted = line == (on_line >= 0.5F);
        bool have =
            (wrap(all[f->best].ticks, f->metres[all[f->best].metre].bar_ticks) == 0) == (on_line >= 0.5F);
        if (wanted && (!have || all[i].score > all[f->best].score)) f->best = i;
    }
    f->sure = fmaxf(on_line, 1 - on_line);
    f->root = all[f->best].root;
}

void beam_begin(struct us_follower *f)
{
    f->loudness = newest_note(f)->velocity;
    f->guess_count = 0;
    for (int m = 0; m < f->metre_count; m++) {
        const struct us_follower_metre *metre = &f->metres[m];
        if (f->settings.pickup >= 0) {
            double pickup = fmod(f->settings.pickup * US_FOLLOWER_TICKS, metre->bar_ticks);
            add_start(f, m, -(int32_t)lround(pickup), metre->log_prior);
            continue;
        }
        for (int i = 0; i < PICKUPS; i++)
            if (PICKUP[i].ticks < metre->bar_ticks)
                add_start(f, m, -(int32_t)PICKUP[i].ticks, metre->log_prior + PICKUP[i].log_prior);
    }
    choose_start(f);
}

/* ---- who lives on ---- */

/* Where in an earlier strain the child is. */
static int64_t replay_after(const struct us_follower *f, const struct us_follower_guess *parent,
                            const struct candidate *c)
{
    if (c->how == HOW_RESTARTED) return c->again;
    if (c->step == NO_STEP) return parent->replay;
    int32_t again = replay_step(f, parent);
    return again > 0 && again == RHYTHM_TICKS[c->step] ? parent->replay + 1 : -1;
}

/* The player begins the tune, or another one. */
static void start_over(const struct us_follower *f, struct us_follower_guess *g, const struct candidate *c)
{
    const struct us_follower_note *opening = &f->notes[g->start_note % US_FOLLOWER_NOTES];
    bool known = f->note_count - g->start_note < US_FOLLOWER_NOTES && c->metre == g->metre &&
                 c->to_ticks == g->start_ticks &&
                 opening->pitch == f->notes[(f->note_count - 1) % US_FOLLOWER_NOTES].pitch;
    g->replay = known ? (int64_t)g->start_note : -1;
    g->back_note = f->note_count - 1;
    g->proof = known ? PROOFS : 0;
    if (c->metre != g->metre) g->root = (uint16_t)(US_FOLLOWER_GUESSES * RHYTHM_STEPS + c->metre);
    g->metre = c->metre;
    g->ticks = g->start_ticks = c->to_ticks;
    g->start_note = f->note_count - 1;
    g->last_step = NO_STEP;
    g->var_quarter += 0.01F * g->quarter_s * g->quarter_s;
}

/* Whether the quarter that begins here is played long and short. */
static void remember_uneven(const struct us_follower *f, struct us_follower_guess *g, int32_t step_ticks)
{
    if (!rhythm_on_quarter(&f->metres[g->metre], g->ticks)) return;
    g->dotted = (uint8_t)(g->dotted << 1 | (step_ticks == DOTTED_TICKS));
    g->lilting = (uint8_t)(g->lilting << 1 | (step_ticks == LILTING_TICKS));
}

/* The player went on after a stop, or back. */
static void remember_stop(const struct us_follower *f, struct us_follower_guess *g, const struct candidate *c)
{
    if (c->how == HOW_HESITATED && g->waits < UINT8_MAX) g->waits++;
    if (c->how != HOW_RESTARTED) return;
    if (g->backs < UINT8_MAX) g->backs++;
    g->back_note = f->note_count - c->alike;
    g->proof = PROOFS;
}

/* Everything of the child but where the earlier notes were. */
static void make_child(const struct us_follower *f, const struct candidate *c, double at_s,
                       struct us_follower_guess *g)
{
    const struct us_follower_guess *parent = &f->guesses[f->side][c->parent];
    memcpy(g, parent, offsetof(struct us_follower_guess, note_ticks));
    clock_update(f, g, c, at_s);
    g->replay = replay_after(f, parent, c);
    g->score = c->score;
    g->foreseen = c->foreseen;
    g->graced = parent->how == HOW_GRACE && c->how != HOW_GRACE;
    g->how = c->how;
    if (c->how == HOW_FIRST) g->root = (uint16_t)(parent->root + c->step * US_FOLLOWER_GUESSES);
    if (g->proof) g->proof--;
    if (c->step != NO_STEP) {
        remember_uneven(f, g, RHYTHM_TICKS[c->step]);
        g->last_step = c->step;
        g->ticks += RHYTHM_TICKS[c->step];
    }
    g->ticks += c->jump_ticks;
    remember_stop(f, g, c);
    if (c->how == HOW_STARTED) start_over(f, g, c);
}

static void finish_child(const struct us_follower *f, const struct candidate *c, struct us_follower_guess *g)
{
    memcpy(g->note_ticks, f->guesses[f->side][c->parent].note_ticks, sizeof g->note_ticks);
    g->note_ticks[(f->note_count - 1) % US_FOLLOWER_NOTES] = (int16_t)g->ticks;
}

/* Guesses that agree in metre, place and tempo are one, but for those that are still to be proved. */
static uint32_t key_of(const struct us_follower *f, const struct us_follower_guess *g)
{
    uint32_t place = (uint32_t)wrap(g->ticks, f->metres[g->metre].bar_ticks);
    uint32_t tempo = (uint32_t)(int32_t)(quick_log(g->quarter_s) * 16.0F + 64.0F);
    return (((place * 64 + tempo) * 2 + (g->proof > 0)) * 2 + (g->how == HOW_GRACE)) * 8 + g->metre + 1;
}

static float add_logs(float a, float b)
{
    float high = a > b ? a : b, low = a > b ? b : a;
    return high - low > 5 ? high : high + log1pf(expf(low - high));
}

static void keep(struct us_follower *f, const struct pool *pool, const uint16_t *order, int count,
                 double at_s)
{
    uint32_t keys[KEYS] = {0};
    uint16_t where[KEYS];
    struct us_follower_guess *next = f->guesses[!f->side];
    uint16_t kept = 0;
    for (int i = 0; i < count && kept < US_FOLLOWER_GUESSES; i++) {
        const struct candidate *c = &pool->list[order[i]];
        struct us_follower_guess *g = &next[kept];
        make_child(f, c, at_s, g);
        uint32_t key = key_of(f, g), at = key * 2654435761U >> 25;
        while (keys[at] && keys[at] != key)
            at = (at + 1) % KEYS;
        if (keys[at]) {
            next[where[at]].score = add_logs(next[where[at]].score, g->score);
        } else {
            keys[at] = key;
            where[at] = kept++;
            finish_child(f, c, g);
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

/* Gives the mass of guesses of the same place and root to the first of them. */
static void gather(const struct us_follower_guess *all, int count, const int32_t *place, float *mass)
{
    uint8_t first[PLACES] = {0}; /* its number and one more */
    for (int i = 0; i < count; i++) {
        uint32_t at = ((uint32_t)place[i] * 2654435761U ^ all[i].root * 40503U) >> 16 & (PLACES - 1);
        if (!(mass[i] > 0)) continue;
        while (first[at] && (place[first[at] - 1] != place[i] || all[first[at] - 1].root != all[i].root))
            at = (at + 1) % PLACES;
        if (first[at]) {
            mass[first[at] - 1] += mass[i];
            mass[i] = 0;
        } else {
            first[at] = (uint8_t)(i + 1);
        }
    }
}

/* The guess of the place that has most weight, and that weight.  The longer a metre and a tempo have been
   believed in, the further ahead others must be: where two go on side by side, bars are counted in one. */
static void choose(struct us_follower *f)
{
    struct us_follower_guess *all = f->guesses[f->side];
    float top = -INFINITY, total = 0, mass[US_FOLLOWER_GUESSES], best_mass = 0, best_weight = -1;
    float stay = expf(fminf(STAY_MOST, STAY_RATE * (float)(f->note_count - f->root_since)));
    int32_t place[US_FOLLOWER_GUESSES];
    for (int i = 0; i < f->guess_count; i++)
        top = fmaxf(top, all[i].score);
    for (int i = 0; i < f->guess_count; i++) {
        all[i].score -= top;
        mass[i] = expf(all[i].score);
        total += mass[i];
        place[i] = wrap(all[i].ticks, f->metres[all[i].metre].bar_ticks) * US_FOLLOWER_METRES + all[i].metre;
    }
    gather(all, f->guess_count, place, mass);
    for (int i = 0; i < f->guess_count; i++) {
        float weight = all[i].root == f->root ? mass[i] * stay : mass[i];
        if (weight > best_weight) {
            best_weight = weight;
            best_mass = mass[i];
            f->best = (uint16_t)i;
        }
    }
    f->sure = fminf(1.0F, best_mass / total);
    if (all[f->best].root != f->root || all[f->best].start_note != f->run_note) f->root_since = f->note_count;
    f->root = all[f->best].root;
}

float beam_belief(const struct us_follower *f, int32_t ahead, bool bar)
{
    const struct us_follower_guess *all = f->guesses[f->side];
    float here = 0, total = 0;
    for (int i = 0; i < f->guess_count; i++) {
        if (all[i].score < -7) continue;
        const struct us_follower_metre *metre = &f->metres[all[i].metre];
        float weight = expf(all[i].score);
        total += weight;
        if (wrap(all[i].ticks + ahead, bar ? metre->bar_ticks : metre->beat_ticks) == 0) here += weight;
    }
    return total > 0 ? here / total : 0;
}

/* How exact and how free the player is, and how keys are held, from the way the best guess was reached.
   Errors that keep their sign say that the tempo moves faster than believed. */
static void learn_player(struct us_follower *f, const struct news *news, float last_error_s)
{
    const struct us_follower_guess *g = best_guess(f);
    if (g->how == HOW_PLAYED && f->note_count > 5) {
        float noise = f->jitter_s * f->jitter_s, off = fminf(g->error_s * g->error_s, 9 * g->error_var);
        noise += JITTER_RATE * (off - (g->error_var - noise) - noise);
        f->jitter_s = sqrtf(fminf(0.003F, fmaxf(0.00015F, noise)));
        float together = g->error_s * last_error_s / g->error_var;
        f->drift *= expf(DRIFT_RATE * fminf(2.0F, fmaxf(-2.0F, together)));
        f->drift = fminf(DRIFT_MOST, fmaxf(DRIFT_LEAST, f->drift));
    }
    if (!news->held && g->last_step != NO_STEP && (g->how == HOW_PLAYED || g->how == HOW_HESITATED)) {
        float written_s = (float)RHYTHM_TICKS[g->last_step] / US_FOLLOWER_TICKS * g->quarter_s;
        float off = news->log_hold - quick_log(written_s) - f->hold_mean;
        if (fabsf(off) > 1) return;
        f->hold_mean += HOLD_RATE * off;
        f->hold_var = fmaxf(HOLD_LEAST, f->hold_var + HOLD_RATE * (off * off - f->hold_var));
    }
}

/* A strain that comes back stands at the same place in the bar: guesses for which it does are held to it. */
static void match_echoes(struct us_follower *f)
{
    for (int i = 0; i < f->guess_count; i++) {
        struct us_follower_guess *g = &f->guesses[f->side][i];
        bool missed = false, paused = false;
        for (int e = 0; g->replay < 0 && e < f->echo_count; e++) {
            const struct us_follower_echo *echo = &f->echoes[e];
            int32_t back = (int16_t)(g->ticks - g->note_ticks[echo->note % US_FOLLOWER_NOTES]);
            if (wrap(back, f->metres[g->metre].bar_ticks) == 0)
                g->replay = echo->note;
            else if (echo->paused && echo->length <= 8)
                paused = true;
            else
                missed = missed || (echo->length >= 5 && echo->length <= 8);
        }
        if (g->replay < 0 && paused)
            g->score -= ECHO_MISSED_PAUSED;
        else if (g->replay < 0 && missed)
            g->score -= ECHO_MISSED;
    }
}

/* What the newest note tells; it also counts for how loud the player is. */
static struct news news_of(struct us_follower *f, bool after_end)
{
    const struct us_follower_note *note = newest_note(f);
    const struct us_follower_note *last = &f->notes[(f->note_count - 2) % US_FOLLOWER_NOTES];
    struct news news = {.at_s = note->at_s,
                        .gap_s = (float)(note->at_s - last->at_s),
                        .half_log_hold_var = 0.5F * quick_log(f->hold_var),
                        .half_per_hold_var = 0.5F / f->hold_var,
                        .tempo_centre = clock_tempo_centre(f),
                        .held = last->off_s < 0,
                        .pitch = note->pitch,
                        .same_pitch = note->pitch == last->pitch,
                        .after_end = after_end};
    news.log_gap = quick_log(news.gap_s);
    news.accent = (last->velocity - f->loudness) / ACCENT;
    news.accent = fmaxf(-2.0F, fminf(2.0F, news.accent));
    news.soft = fmaxf(-2.0F, fminf(2.0F, (f->loudness - note->velocity) / ACCENT));
    f->loudness += 0.08F * (note->velocity - f->loudness);
    news.contour = -1;
    news.opening = f->note_count == 2 ? opening_of(last->pitch, note->pitch) : -1;
    const struct us_follower_note *before = &f->notes[(f->note_count - 3) % US_FOLLOWER_NOTES];
    news.trills = f->note_count > 2 && news.gap_s < TRILL_S && before->pitch == note->pitch;
    if (f->note_count > 2) news.contour = contour_of(before->pitch, last->pitch, note->pitch);
    if (!news.held) news.log_hold = quick_log(fmaxf(0.01F, (float)(last->off_s - last->at_s)));
    return news;
}

void beam_advance(struct us_follower *f, bool after_end)
{
    struct news news = news_of(f, after_end);
    float last_error_s = best_guess(f)->error_s;
    enum guess_how how_before = best_guess(f)->how;
    struct pool pool;
    echo_find(f);
    expand_all(f, &news, &pool);
    uint16_t order[CANDIDATES];
    int count = order_pool(&pool, order);
    if (!count) return;
    keep(f, &pool, order, count, news.at_s);
    match_echoes(f);
    choose(f);
    if (best_guess(f)->how != HOW_STUTTERED)
        f->repeats += REPEAT_RATE * ((news.same_pitch ? 1.0F : 0.0F) - f->repeats);
    f->graces += GRACE_RATE * ((best_guess(f)->graced ? 1.0F : 0.0F) - f->graces);
    f->graces = fmaxf(GRACES_LEAST, f->graces);
    if (how_before == HOW_GRACE || how_before == HOW_ORNAMENT)
        news.held = true; /* an ornament's key tells nothing */
    if (!after_end) learn_player(f, &news, last_error_s);
}

void beam_tap(struct us_follower *f, double at_s)
{
    for (int i = 0; i < f->guess_count; i++) {
        struct us_follower_guess *g = &f->guesses[f->side][i];
        if (g->quarter_s <= 0) continue;
        float beat = (float)f->metres[g->metre].beat_ticks;
        float place = (float)g->ticks + (float)(at_s - g->phase_s) / g->quarter_s * US_FOLLOWER_TICKS;
        float off = place / beat - floorf(place / beat + 0.5F);
        g->score -= fminf(TAP_MOST, 0.5F * off * off / (TAP_OFF * TAP_OFF));
    }
    choose(f);
}
