#include "undersong/limiter.h"

#include <math.h>

void us_limiter_init(struct us_limiter *limiter, double rate_hz)
{
    limiter->gain = 1;
    limiter->fall = (float)(1 - exp(-1 / (0.0005 * rate_hz))); /* 98 % of the way in 2 ms */
    limiter->rise = (float)(1 - exp(-1 / (0.3 * rate_hz)));
}

/* t / (1 + t) bends what is above the knee into the room between it and 1. */
static float bend(float x)
{
    float size = fabsf(x), room = 1 - US_LIMITER_KNEE, t = (size - US_LIMITER_KNEE) / room;
    if (t <= 0) return x;
    if (t > 1000) t = 1000;
    return copysignf(US_LIMITER_KNEE + room * t / (1 + t), x);
}

void us_limiter_frame(struct us_limiter *limiter, float *left, float *right)
{
    float peak = fmaxf(fabsf(*left), fabsf(*right));
    float wanted = peak > US_LIMITER_KNEE ? US_LIMITER_KNEE / peak : 1;
    if (wanted < limiter->gain)
        limiter->gain += (wanted - limiter->gain) * limiter->fall;
    else
        limiter->gain += (wanted - limiter->gain) * limiter->rise;
    *left = bend(*left * limiter->gain);
    *right = bend(*right * limiter->gain);
}
