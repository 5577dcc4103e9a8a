/* Gradient descent with running moments of the gradient (Adam: Kingma and Ba, ICLR 2015). */
#ifndef MODEL_MOMENTS_H
#define MODEL_MOMENTS_H

#include <math.h>

/* Of one weight's gradient and of its square; begins with zeros. */
struct moments {
    double first, second;
};

/* Moves the weight one step against its gradient; `round` counts from 1. */
static inline void moments_step(float *weight, struct moments *m, double gradient, float rate, int round)
{
    m->first = 0.9 * m->first + 0.1 * gradient;
    m->second = 0.99 * m->second + 0.01 * gradient * gradient;
    *weight -= (float)((double)rate * m->first / (1 - pow(0.9, round)) /
                       (sqrt(m->second / (1 - pow(0.99, round))) + 1e-8));
}

#endif
