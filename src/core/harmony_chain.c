#include "harmony_chain.h"

#include <string.h>

enum { MAX = US_CHAIN_STATES_MAX };

static void scale(double *p, int states)
{
    double sum = 0;
    for (int i = 0; i < states; i++)
        sum += p[i];
    for (int i = 0; i < states; i++)
        p[i] = sum > 0 ? p[i] / sum : 1.0 / states;
}

/* A beat whose states cannot be reached begins anew. */
static void forward_step(const struct us_chain *c, size_t t, const double *before, double *now)
{
    double all = 0;
    for (int to = 0; to < c->states; to++) {
        double sum = t ? 0 : 1;
        for (int from = 0; t && from < c->states; from++)
            sum += before[from] * c->move(c->user, t, from, to);
        now[to] = sum * c->here(c->user, t, to);
        all += now[to];
    }
    for (int to = 0; !(all > 0) && to < c->states; to++)
        now[to] = c->here(c->user, t, to);
    scale(now, c->states);
}

void us_chain_judge(const struct us_chain *c, double *out)
{
    size_t n = (size_t)c->states;
    for (size_t t = 0; t < c->count; t++)
        forward_step(c, t, t ? &out[(t - 1) * n] : NULL, &out[t * n]);
    double after[MAX];
    for (size_t i = 0; i < n; i++)
        after[i] = 1;
    for (size_t t = c->count; t-- > 0;) {
        double before[MAX] = {0}, seen[MAX];
        for (int i = 0; i < c->states; i++)
            seen[i] = c->here(c->user, t, i) * after[i];
        for (int from = 0; t && from < c->states; from++)
            for (int to = 0; to < c->states; to++)
                before[from] += c->move(c->user, t, from, to) * seen[to];
        for (size_t i = 0; i < n; i++)
            out[t * n + i] *= after[i];
        scale(&out[t * n], c->states);
        scale(before, c->states);
        memcpy(after, before, sizeof after);
    }
}
