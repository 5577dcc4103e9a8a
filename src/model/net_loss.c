/* How wrong a network's answers are, and which way they should move. */
#include <math.h>
#include <string.h>

#include "net_pass.h"

enum { ROLES = 3, OUT = US_NET_OUT };
static const size_t LAGS[3] = {2, 4, 8};
static const float LAG_SHARE = 0.3f;

/* Cross entropy of one choice among `n`; adds the gradient. */
static double choice_loss(const float *x, int n, int right, float weight, float *grad)
{
    double most = x[0], sum = 0;
    for (int i = 1; i < n; i++)
        most = fmax(most, x[i]);
    for (int i = 0; i < n; i++)
        sum += exp(x[i] - most);
    for (int i = 0; i < n; i++)
        grad[i] += weight * (float)(exp(x[i] - most) / sum - (i == right));
    return weight * (log(sum) + most - x[right]);
}

/* The chain of roles: forward and backward sums in step with each other, each beat scaled to 1. */
struct chain {
    const float *out;    /* count * OUT */
    const int8_t *right; /* NULL: any role may stand anywhere */
    size_t count;
};

static double here(const struct chain *c, size_t t, int role)
{
    if (c->right && c->right[t] >= 0 && c->right[t] != role) return 0;
    return exp(c->out[t * OUT + US_OUT_ROLE + (size_t)role]);
}

static double move(const struct chain *c, size_t t, int from, int to)
{
    return exp(c->out[t * OUT + US_OUT_PAIR + (size_t)(from * ROLES + to)]);
}

static double scale(double x[ROLES])
{
    double sum = x[0] + x[1] + x[2];
    for (int i = 0; i < ROLES; i++)
        x[i] /= sum;
    return log(sum);
}

/* Adds `sign` times the expected counts of roles and moves to `grad`; returns the log of the sum of all ways.
   The forward sums need room for count * ROLES numbers. */
static double chain_counts(const struct chain *c, double *forward, float sign, float *grad)
{
    double total = 0, after[ROLES] = {1, 1, 1};
    for (size_t t = 0; t < c->count; t++) {
        double *f = &forward[t * ROLES];
        for (int to = 0; to < ROLES; to++) {
            double sum = t ? 0 : 1;
            for (int from = 0; t && from < ROLES; from++)
                sum += f[from - ROLES] * move(c, t, from, to);
            f[to] = sum * here(c, t, to);
        }
        total += scale(f);
    }
    for (size_t t = c->count; t-- > 0;) {
        double way[ROLES][ROLES], sum = 0, before[ROLES] = {0}, role[ROLES];
        for (int i = 0; i < ROLES; i++)
            role[i] = forward[t * ROLES + (size_t)i] * after[i];
        scale(role);
        for (int i = 0; i < ROLES; i++)
            grad[t * OUT + US_OUT_ROLE + (size_t)i] += sign * (float)role[i];
        for (int from = 0; t && from < ROLES; from++)
            for (int to = 0; to < ROLES; to++) {
                double step = move(c, t, from, to) * here(c, t, to) * after[to];
                before[from] += step;
                sum += way[from][to] = forward[(t - 1) * ROLES + (size_t)from] * step;
            }
        for (int i = 0; t && i < ROLES * ROLES; i++)
            grad[t * OUT + US_OUT_PAIR + (size_t)i] += sign * (float)(way[i / ROLES][i % ROLES] / sum);
        if (t) scale(before);
        memcpy(after, before, sizeof after);
    }
    return total;
}

static double whole_loss(struct net_pass *p, const struct net_example *e, double *forward)
{
    struct chain any = {p->out, NULL, e->count}, right = {p->out, e->role, e->count};
    double loss = chain_counts(&any, forward, e->weight, p->out_grad);
    loss -= chain_counts(&right, forward, -e->weight, p->out_grad);
    return e->weight * loss;
}

/* Live: how wrong the roles 2, 4 and 8 beats ago are in the outputs `x` of beat `t`. */
static void lags_loss(const struct net_example *e, size_t t, const float *x, float weight, float *grad)
{
    for (size_t k = 0; k < 3; k++)
        if (t >= LAGS[k] && e->role[t - LAGS[k]] >= 0)
            choice_loss(x + US_OUT_PAIR + k * ROLES, ROLES, e->role[t - LAGS[k]], LAG_SHARE * weight,
                        grad + US_OUT_PAIR + k * ROLES);
}

static double live_loss(struct net_pass *p, const struct net_example *e)
{
    double loss = 0;
    for (size_t t = 0; t < e->count; t++) {
        float *x = &p->out[t * OUT], *g = &p->out_grad[t * OUT];
        if (e->role[t] >= 0)
            loss += choice_loss(x + US_OUT_ROLE, ROLES, e->role[t], e->weight, g + US_OUT_ROLE);
        lags_loss(e, t, x, e->weight, g);
    }
    return loss;
}

/* The plain part learns from hymn-like tunes, each beat for itself. */
static void plain_loss(struct net_pass *p, const struct net_example *e, const struct net_plan *plan)
{
    for (size_t t = 0; t < e->count; t++) {
        float *x = &p->plain[t * OUT], *g = &p->plain_grad[t * OUT];
        if (e->role[t] >= 0) choice_loss(x + US_OUT_ROLE, ROLES, e->role[t], e->style, g + US_OUT_ROLE);
        if (e->chord[t] >= 0)
            choice_loss(x + US_OUT_CLASS, US_HARMONY_CLASSES, e->chord[t], plan->chord_share * e->style,
                        g + US_OUT_CLASS);
        if (plan->live) lags_loss(e, t, x, e->style, g);
    }
}

double net_loss(struct net_pass *p, const struct net_example *e, const struct net_plan *plan)
{
    memset(p->out_grad, 0, e->count * OUT * sizeof(float));
    memset(p->plain_grad, 0, e->count * OUT * sizeof(float));
    double loss = plan->live ? live_loss(p, e) : whole_loss(p, e, p->sums);
    for (size_t t = 0; t < e->count; t++)
        if (e->chord[t] >= 0)
            choice_loss(&p->out[t * OUT + US_OUT_CLASS], US_HARMONY_CLASSES, e->chord[t],
                        plan->chord_share * e->weight, &p->out_grad[t * OUT + US_OUT_CLASS]);
    plain_loss(p, e, plan);
    return loss;
}
