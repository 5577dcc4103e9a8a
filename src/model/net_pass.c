#include "net_pass.h"

#include <stdlib.h>
#include <string.h>

enum { TAPS = US_NET_TAPS, IN = US_NET_IN, HIDDEN = US_NET_HIDDEN, OUT = US_NET_OUT, LANES = 4 };
_Static_assert(HIDDEN % LANES == 0 && OUT % LANES == 0, "rows are gone through in lanes");

static float *numbers(size_t count)
{
    return calloc(count, sizeof(float));
}

bool net_pass_init(struct net_pass *p, size_t room)
{
    *p = (struct net_pass){.room = room};
    bool fine = (p->frames = numbers(room * IN)) && (p->out = numbers(room * OUT)) &&
                (p->out_grad = numbers(room * OUT)) && (p->plain = numbers(room * OUT)) &&
                (p->plain_grad = numbers(room * OUT)) && (p->grad = numbers(room * HIDDEN)) &&
                (p->grad_before = numbers(room * HIDDEN)) && (p->sums = calloc(room * 3, sizeof(double)));
    for (int i = 0; fine && i <= US_NET_DEEP; i++)
        fine = (p->layer[i] = numbers(room * HIDDEN)) && (p->dropped[i] = numbers(room * HIDDEN)) &&
               (p->gain[i] = numbers(room * HIDDEN));
    if (!fine) net_pass_finish(p);
    return fine;
}

void net_pass_finish(struct net_pass *p)
{
    float *all[] = {p->frames, p->out, p->out_grad, p->plain, p->plain_grad, p->grad, p->grad_before};
    for (size_t i = 0; i < sizeof all / sizeof *all; i++)
        free(all[i]);
    free(p->sums);
    for (int i = 0; i <= US_NET_DEEP; i++) {
        free(p->layer[i]);
        free(p->dropped[i]);
        free(p->gain[i]);
    }
    *p = (struct net_pass){0};
}

/* sum[j] += sum over i of x[i] * w[i][j] */
static void forth(const float *restrict x, size_t in, const float *restrict w, size_t out,
                  float *restrict sum)
{
    for (size_t i = 0; i < in; i++) {
        if (x[i] == 0) continue;
        for (size_t j = 0; j < out; j++)
            sum[j] += x[i] * w[i * out + j];
    }
}

static float dot(const float *restrict a, const float *restrict b, size_t count)
{
    float lane[LANES] = {0};
    for (size_t i = 0; i < count; i += LANES)
        for (size_t k = 0; k < LANES; k++)
            lane[k] += a[i + k] * b[i + k];
    return (lane[0] + lane[1]) + (lane[2] + lane[3]);
}

/* Where x[i] is not 0: w_grad[i] += x[i] * g; x_grad[i] += w[i] . g where x_grad is wanted. */
static void back(const float *restrict x, size_t in, const float *restrict w, size_t out,
                 const float *restrict g, float *restrict w_grad, float *restrict x_grad)
{
    for (size_t i = 0; i < in; i++) {
        if (x[i] == 0) continue;
        for (size_t j = 0; j < out; j++)
            w_grad[i * out + j] += x[i] * g[j];
        if (x_grad) x_grad[i] += dot(&w[i * out], g, out);
    }
}

/* The beat that a tap hears: before, at and after over a whole tune, only backwards live. */
static bool tap_beat(const struct net_plan *plan, size_t t, size_t tap, size_t apart, size_t count,
                     size_t *beat)
{
    size_t ahead = t + tap * apart, back_by = (plan->live ? 2 : 1) * apart;
    if (ahead < back_by || ahead - back_by >= count) return false;
    *beat = ahead - back_by;
    return true;
}

static void drop(const float *from, float *to, float *gain, size_t count, float share, uint32_t *random)
{
    for (size_t i = 0; i < count; i++) {
        float g = share > 0 && net_random_share(random) < share ? 0 : 1 / (1 - share);
        if (gain) gain[i] = g;
        to[i] = from[i] * g;
    }
}

static void forward_first(struct net_pass *p, const struct net_weights *w, size_t count,
                          const struct net_plan *plan)
{
    for (size_t t = 0; t < count; t++) {
        float *sum = &p->layer[0][t * HIDDEN], *plain = &p->plain[t * OUT];
        memcpy(sum, w->first_bias, HIDDEN * sizeof *sum);
        memcpy(plain, w->plain_bias, OUT * sizeof *plain);
        for (size_t tap = 0, beat; tap < TAPS; tap++) {
            if (!tap_beat(plan, t, tap, 1, count, &beat)) continue;
            forth(&p->frames[beat * IN], IN, &w->first[tap * IN * HIDDEN], HIDDEN, sum);
            forth(&p->frames[beat * IN], IN, &w->plain[tap * IN * OUT], OUT, plain);
        }
        for (size_t i = 0; i < HIDDEN; i++)
            if (sum[i] < 0) sum[i] = 0;
    }
}

static void forward_deep(struct net_pass *p, const struct net_weights *w, size_t layer, size_t count,
                         const struct net_plan *plan)
{
    size_t apart = (size_t)2 << layer;
    const float *weights = &w->deep[layer * TAPS * HIDDEN * HIDDEN];
    for (size_t t = 0; t < count; t++) {
        float sum[HIDDEN];
        memcpy(sum, &w->deep_bias[layer * HIDDEN], sizeof sum);
        for (size_t tap = 0, beat; tap < TAPS; tap++)
            if (tap_beat(plan, t, tap, apart, count, &beat))
                forth(&p->dropped[layer][beat * HIDDEN], HIDDEN, &weights[tap * HIDDEN * HIDDEN], HIDDEN,
                      sum);
        for (size_t i = 0; i < HIDDEN; i++)
            p->layer[layer + 1][t * HIDDEN + i] = p->layer[layer][t * HIDDEN + i] + (sum[i] > 0 ? sum[i] : 0);
    }
}

void net_forward(struct net_pass *p, const struct net_weights *w, const struct net_example *e,
                 const struct net_plan *plan, uint32_t *random)
{
    drop(e->frames, p->frames, NULL, e->count * IN, plan->drop_in, random);
    forward_first(p, w, e->count, plan);
    for (size_t i = 0; i <= (size_t)plan->deep_layers; i++) {
        drop(p->layer[i], p->dropped[i], p->gain[i], e->count * HIDDEN, plan->drop, random);
        if (i < (size_t)plan->deep_layers) forward_deep(p, w, i, e->count, plan);
    }
    const float *top = p->dropped[plan->deep_layers];
    for (size_t t = 0; t < e->count; t++) {
        memcpy(&p->out[t * OUT], w->last_bias, OUT * sizeof(float));
        forth(&top[t * HIDDEN], HIDDEN, w->last, OUT, &p->out[t * OUT]);
    }
}

static void backward_last(struct net_pass *p, const struct net_weights *w, size_t count, int top,
                          struct net_weights *grad)
{
    memset(p->grad, 0, count * HIDDEN * sizeof(float));
    for (size_t t = 0; t < count; t++) {
        const float *g = &p->out_grad[t * OUT];
        back(&p->dropped[top][t * HIDDEN], HIDDEN, w->last, OUT, g, grad->last, &p->grad[t * HIDDEN]);
        for (size_t i = 0; i < OUT; i++)
            grad->last_bias[i] += g[i];
        for (size_t i = 0; i < HIDDEN; i++)
            p->grad[t * HIDDEN + i] *= p->gain[top][t * HIDDEN + i];
    }
}

/* `grad` holds what is wanted of layer + 1 and afterwards what is wanted of `layer`. */
static void backward_deep(struct net_pass *p, const struct net_weights *w, size_t layer, size_t count,
                          const struct net_plan *plan, struct net_weights *grad)
{
    size_t apart = (size_t)2 << layer, at = layer * TAPS * HIDDEN * HIDDEN;
    memset(p->grad_before, 0, count * HIDDEN * sizeof(float));
    for (size_t t = 0; t < count; t++) {
        float g[HIDDEN];
        for (size_t i = 0; i < HIDDEN; i++) {
            bool open = p->layer[layer + 1][t * HIDDEN + i] > p->layer[layer][t * HIDDEN + i];
            g[i] = open ? p->grad[t * HIDDEN + i] : 0;
            grad->deep_bias[layer * HIDDEN + i] += g[i];
        }
        for (size_t tap = 0, beat; tap < TAPS; tap++)
            if (tap_beat(plan, t, tap, apart, count, &beat))
                back(&p->dropped[layer][beat * HIDDEN], HIDDEN, &w->deep[at + tap * HIDDEN * HIDDEN], HIDDEN,
                     g, &grad->deep[at + tap * HIDDEN * HIDDEN], &p->grad_before[beat * HIDDEN]);
    }
    for (size_t i = 0; i < count * HIDDEN; i++)
        p->grad[i] += p->grad_before[i] * p->gain[layer][i];
}

static void backward_first(struct net_pass *p, const struct net_weights *w, size_t count,
                           const struct net_plan *plan, struct net_weights *grad)
{
    for (size_t t = 0; t < count; t++) {
        float *g = &p->grad[t * HIDDEN];
        const float *plain = &p->plain_grad[t * OUT];
        for (size_t i = 0; i < HIDDEN; i++) {
            if (p->layer[0][t * HIDDEN + i] <= 0) g[i] = 0;
            grad->first_bias[i] += g[i];
        }
        for (size_t i = 0; i < OUT; i++)
            grad->plain_bias[i] += plain[i];
        for (size_t tap = 0, beat; tap < TAPS; tap++) {
            if (!tap_beat(plan, t, tap, 1, count, &beat)) continue;
            const float *x = &p->frames[beat * IN];
            back(x, IN, &w->first[tap * IN * HIDDEN], HIDDEN, g, &grad->first[tap * IN * HIDDEN], NULL);
            back(x, IN, &w->plain[tap * IN * OUT], OUT, plain, &grad->plain[tap * IN * OUT], NULL);
        }
    }
}

void net_backward(struct net_pass *p, const struct net_weights *w, size_t count, const struct net_plan *plan,
                  struct net_weights *grad)
{
    backward_last(p, w, count, plan->deep_layers, grad);
    for (size_t layer = (size_t)plan->deep_layers; layer-- > 0;)
        backward_deep(p, w, layer, count, plan, grad);
    backward_first(p, w, count, plan, grad);
}
