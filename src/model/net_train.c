#include "net_train.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "net_pass.h"

enum { WEIGHTS = sizeof(struct net_weights) / sizeof(float) };
enum { TAPS = US_NET_TAPS, IN = US_NET_IN, HIDDEN = US_NET_HIDDEN, OUT = US_NET_OUT };
static const float WARM_UP = 0.15f, FORGET_1 = 0.9f, FORGET_2 = 0.999f, LONGEST = 1.0f;

uint32_t net_random(uint32_t *state)
{
    uint32_t x = *state ? *state : 1;
    x ^= x << 13;
    x ^= x >> 17;
    x ^= x << 5;
    return *state = x;
}

float net_random_share(uint32_t *state)
{
    return (float)(net_random(state) >> 8) / 16777216.0f;
}

static void scatter(float *w, size_t count, float within, uint32_t *random)
{
    for (size_t i = 0; i < count; i++)
        w[i] = (2 * net_random_share(random) - 1) * within;
}

void net_weights_start(struct net_weights *w, uint32_t seed)
{
    memset(w, 0, sizeof *w);
    scatter(w->first, sizeof w->first / sizeof(float), 1 / sqrtf(TAPS * IN), &seed);
    scatter(w->deep, sizeof w->deep / sizeof(float), 1 / sqrtf(TAPS * HIDDEN), &seed);
    scatter(w->last, sizeof w->last / sizeof(float), 1 / sqrtf(HIDDEN), &seed);
}

/* Gradient descent with moments (Adam) and decay of the weights apart from it. */
struct descent {
    struct net_weights grad, first, second;
    long step;
};

static float rate_at(const struct net_plan *plan, float done)
{
    if (done < WARM_UP) return plan->rate * (0.04f + 0.96f * done / WARM_UP);
    return plan->rate * 0.5f * (1 + cosf(3.14159265f * (done - WARM_UP) / (1 - WARM_UP)));
}

/* Gradients longer than LONGEST are cut to it. */
static void shorten(float *grad, float divide)
{
    double square = 0;
    for (size_t i = 0; i < WEIGHTS; i++) {
        grad[i] /= divide;
        square += (double)grad[i] * grad[i];
    }
    double length = sqrt(square);
    if (length <= LONGEST) return;
    for (size_t i = 0; i < WEIGHTS; i++)
        grad[i] *= (float)(LONGEST / length);
}

static void descend(struct descent *d, struct net_weights *weights, float rate, const struct net_plan *plan)
{
    float *w = (float *)weights, *g = (float *)&d->grad, *m = (float *)&d->first, *v = (float *)&d->second;
    size_t plain = offsetof(struct net_weights, plain) / sizeof(float);
    d->step++;
    float fix_1 = 1 - powf(FORGET_1, (float)d->step), fix_2 = 1 - powf(FORGET_2, (float)d->step);
    for (size_t i = 0; i < WEIGHTS; i++) {
        m[i] = FORGET_1 * m[i] + (1 - FORGET_1) * g[i];
        v[i] = FORGET_2 * v[i] + (1 - FORGET_2) * g[i] * g[i];
        float decay = i >= plain ? plan->plain_decay : plan->decay;
        w[i] -= rate * (m[i] / fix_1 / (sqrtf(v[i] / fix_2) + 1e-8f) + decay * w[i]);
    }
}

static void shuffle(size_t *order, size_t count, uint32_t *random)
{
    for (size_t i = count; i > 1; i--) {
        size_t k = net_random(random) % i, keep = order[i - 1];
        order[i - 1] = order[k];
        order[k] = keep;
    }
}

struct course {
    struct net_weights *w;
    struct net_example *examples;
    const struct net_plan *plan;
    struct net_pass pass;
    struct descent *descent;
    double *mean; /* of the weights so far, since there have been so many */
    double means;
    uint32_t random;
};

/* Tunes `from` to `until` of the order: one step downhill. */
static double one_step(struct course *s, const size_t *order, size_t from, size_t until, float done)
{
    double loss = 0, beats = 0;
    memset(&s->descent->grad, 0, sizeof s->descent->grad);
    for (size_t i = from; i < until; i++) {
        struct net_example *e = &s->examples[order[i]];
        if (s->plan->vary) s->plan->vary(s->plan->user, order[i], &s->random, e);
        net_forward(&s->pass, s->w, e, s->plan, &s->random);
        loss += net_loss(&s->pass, e, s->plan);
        net_backward(&s->pass, s->w, e->count, s->plan, &s->descent->grad);
        for (size_t t = 0; t < e->count; t++)
            beats += e->role[t] >= 0 ? e->weight : 0;
    }
    shorten((float *)&s->descent->grad, (float)fmax(beats, 1));
    descend(s->descent, s->w, rate_at(s->plan, done), s->plan);
    return loss / fmax(beats, 1);
}

/* The mean of the weights on the way errs less than the last ones do. */
static void add_to_mean(struct course *s)
{
    const float *w = (const float *)s->w;
    s->means++;
    for (size_t i = 0; i < WEIGHTS; i++)
        s->mean[i] += ((double)w[i] - s->mean[i]) / s->means;
}

static void take_mean(struct course *s)
{
    float *w = (float *)s->w;
    for (size_t i = 0; i < WEIGHTS && s->means > 0; i++)
        w[i] = (float)s->mean[i];
}

static double run(struct course *s, size_t *order, size_t count)
{
    double loss = 0;
    size_t stride = (size_t)s->plan->tunes_a_step;
    for (int epoch = 0; epoch < s->plan->epochs; epoch++) {
        double steps = 0;
        loss = 0;
        shuffle(order, count, &s->random);
        for (size_t i = 0; i < count; i += stride, steps++) {
            float done = ((float)epoch + (float)i / (float)count) / (float)s->plan->epochs;
            loss += one_step(s, order, i, i + stride < count ? i + stride : count, done);
            if (done >= s->plan->mean_from) add_to_mean(s);
        }
        loss /= steps;
    }
    return loss;
}

bool net_train(struct net_weights *w, struct net_example *examples, size_t count, const struct net_plan *plan,
               double *loss)
{
    struct course s = {.w = w, .examples = examples, .plan = plan, .random = plan->seed * 2654435761u + 1};
    size_t room = 1, *order = malloc((count + 1) * sizeof *order);
    for (size_t i = 0; i < count; i++) {
        if (examples[i].room > room) room = examples[i].room;
        if (order) order[i] = i;
    }
    s.descent = calloc(1, sizeof *s.descent);
    s.mean = calloc(WEIGHTS, sizeof *s.mean);
    bool fine = order && s.descent && s.mean && net_pass_init(&s.pass, room);
    if (fine) {
        double last = run(&s, order, count);
        take_mean(&s);
        if (loss) *loss = last;
        net_pass_finish(&s.pass);
    }
    free(order);
    free(s.descent);
    free(s.mean);
    return fine;
}
