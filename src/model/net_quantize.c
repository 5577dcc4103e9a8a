/* Weights as printable bytes, each output with a scale of its own, and back. */
#include <math.h>

#include "net_train.h"

enum { TAPS = US_NET_TAPS, IN = US_NET_IN, HIDDEN = US_NET_HIDDEN, OUT = US_NET_OUT, DEEP = US_NET_DEEP };

static void quantize(const float *w, size_t in, size_t out, uint8_t *bytes, float *scale)
{
    for (size_t j = 0; j < out; j++) {
        float most = 0;
        for (size_t i = 0; i < in; i++)
            most = fmaxf(most, fabsf(w[i * out + j]));
        scale[j] = most > 0 ? most / US_NET_REACH : 1;
        for (size_t i = 0; i < in; i++)
            bytes[i * out + j] = (uint8_t)(US_NET_ZERO + lrintf(w[i * out + j] / scale[j]));
    }
}

static void restore(const uint8_t *bytes, size_t in, size_t out, const float *scale, float *w)
{
    for (size_t i = 0; i < in; i++)
        for (size_t j = 0; j < out; j++)
            w[i * out + j] = (float)((int)bytes[i * out + j] - US_NET_ZERO) * scale[j];
}

static void copy(const float *from, float *to, size_t count)
{
    for (size_t i = 0; i < count; i++)
        to[i] = from[i];
}

void net_quantize(const struct net_weights *w, const struct net_plan *plan, float mix,
                  struct us_harmony_net *net)
{
    net->deep_layers = (uint8_t)plan->deep_layers;
    net->mix = mix;
    quantize(w->first, TAPS * IN, HIDDEN, net->first, net->first_scale);
    quantize(w->last, HIDDEN, OUT, net->last, net->last_scale);
    quantize(w->plain, TAPS * IN, OUT, net->plain, net->plain_scale);
    for (size_t l = 0; l < DEEP; l++)
        quantize(&w->deep[l * TAPS * HIDDEN * HIDDEN], TAPS * HIDDEN, HIDDEN,
                 &net->deep[l * TAPS * HIDDEN * HIDDEN], &net->deep_scale[l * HIDDEN]);
    copy(w->first_bias, net->first_bias, HIDDEN);
    copy(w->deep_bias, net->deep_bias, DEEP * HIDDEN);
    copy(w->last_bias, net->last_bias, OUT);
    copy(w->plain_bias, net->plain_bias, OUT);
}

void net_restore(const struct us_harmony_net *net, struct net_weights *w)
{
    restore(net->first, TAPS * IN, HIDDEN, net->first_scale, w->first);
    restore(net->last, HIDDEN, OUT, net->last_scale, w->last);
    restore(net->plain, TAPS * IN, OUT, net->plain_scale, w->plain);
    for (size_t l = 0; l < DEEP; l++)
        restore(&net->deep[l * TAPS * HIDDEN * HIDDEN], TAPS * HIDDEN, HIDDEN, &net->deep_scale[l * HIDDEN],
                &w->deep[l * TAPS * HIDDEN * HIDDEN]);
    copy(net->first_bias, w->first_bias, HIDDEN);
    copy(net->deep_bias, w->deep_bias, DEEP * HIDDEN);
    copy(net->last_bias, w->last_bias, OUT);
    copy(net->plain_bias, w->plain_bias, OUT);
}
