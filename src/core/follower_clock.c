/* Tempo and phase of a hypothesis: a two-state Kalman filter. */
#include "follower_parts.h"

#include <math.h>

static const float LOG_TEMPO_CENTRE = -0.43F; /* logarithm of a quarter's seconds */
static const float STRETCH_SEEN = 0.15F, STRETCH_TEMPO = 0.23F;

float clock_tempo_centre(const struct us_follower *f)
{
    return f->tempo_guess_s > 0 ? quick_log(f->tempo_guess_s) : LOG_TEMPO_CENTRE;
}

/* The second note says what the tempo is. */
static void learn_clock(struct us_follower_guess *g, double at_s, float n, float noise)
{
    g->quarter_s = (float)(at_s - g->phase_s) / n;
    g->phase_s = at_s;
    g->var_phase = noise;
    g->covariance = noise / n;
    g->var_quarter = 2 * noise / (n * n);
}

/* A note in time moves phase and tempo towards where it came. */
static void correct_clock(struct us_follower_guess *g, float error_s, float n, float noise)
{
    g->error_s = error_s;
    g->error_var = g->var_phase + noise;
    float total = g->error_var, gain = g->var_phase / total, gain_tempo = g->covariance / total;
    g->phase_s += (double)(n * g->quarter_s + gain * error_s);
    g->quarter_s = fminf(3.0F, fmaxf(0.15F, g->quarter_s + gain_tempo * error_s));
    g->var_quarter -= gain_tempo * g->covariance;
    g->var_phase *= 1 - gain;
    g->covariance *= 1 - gain;
}

void clock_update(const struct us_follower *f, struct us_follower_guess *g, const struct candidate *c,
                  double at_s)
{
    float noise = f->jitter_s * f->jitter_s,
          n = c->step == NO_STEP ? 0 : (float)RHYTHM_TICKS[c->step] / US_FOLLOWER_TICKS;
    if (c->how == HOW_ORNAMENT || c->how == HOW_GRACE) {
        if (g->quarter_s <= 0) g->phase_s = at_s; /* the tune begins with the note after a grace note */
        return;
    }
    if (c->how == HOW_FIRST) {
        learn_clock(g, at_s, n, noise);
        return;
    }
    if (g->quarter_s <= 0) { /* stopped before any tempo was heard */
        g->quarter_s = expf(clock_tempo_centre(f));
        g->var_quarter = 0.04F * g->quarter_s * g->quarter_s;
    }
    float drift = f->drift * g->quarter_s;
    g->var_phase = predicted_variance(f, g, n) - noise;
    g->covariance += n * g->var_quarter;
    g->var_quarter += n * drift * drift;
    if (c->how == HOW_STRETCHED) {
        float stretch = STRETCH_SEEN * n * g->quarter_s;
        g->var_phase += stretch * stretch;
        g->covariance += STRETCH_TEMPO * stretch * stretch / n;
        g->var_quarter += STRETCH_TEMPO * stretch * stretch / (n * n);
    }
    if (c->how == HOW_PLAYED || c->how == HOW_STRETCHED) {
        correct_clock(g, c->error_s, n, noise);
    } else { /* a new start: the clock begins here */
        g->phase_s = at_s;
        g->var_phase = noise;
        g->covariance = 0;
        g->var_quarter += drift * drift;
    }
}
