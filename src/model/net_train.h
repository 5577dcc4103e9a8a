/* Learning the weights of one network: convolutions over beats, by gradient descent.  Same input, same seed,
   same bytes. */
#ifndef MODEL_NET_TRAIN_H
#define MODEL_NET_TRAIN_H

#include <stdbool.h>
#include <stddef.h>

#include "undersong/harmony_tables.h"

/* Weights before they are quantized; the arrays are as in struct us_harmony_net. */
struct net_weights {
    float first[US_NET_TAPS * US_NET_IN * US_NET_HIDDEN], first_bias[US_NET_HIDDEN];
    float deep[US_NET_DEEP * US_NET_TAPS * US_NET_HIDDEN * US_NET_HIDDEN];
    float deep_bias[US_NET_DEEP * US_NET_HIDDEN];
    float last[US_NET_HIDDEN * US_NET_OUT], last_bias[US_NET_OUT];
    float plain[US_NET_TAPS * US_NET_IN * US_NET_OUT], plain_bias[US_NET_OUT];
};

/* A tune as frames with answers: -1 where none is known. */
struct net_example {
    float *frames; /* room * US_NET_IN */
    int8_t *role;  /* 0 to 2 */
    int8_t *chord; /* 0 to US_HARMONY_CLASSES - 1 */
    size_t count;  /* beats, at most `room` */
    size_t room;   /* beats that there can be, whichever way the tune is varied */
    float weight;  /* how much its beats count, above 0 */
    float style;   /* how much it teaches the plain part: about 0, a dance, to about 1, a hymn */
};

struct net_plan {
    bool live;       /* each beat hears only those before it */
    int deep_layers; /* at most US_NET_DEEP */
    int epochs;      /* how often each tune is gone through */
    int tunes_a_step;
    float rate;               /* of a step, at its highest */
    float decay, plain_decay; /* of the weights, times the rate, at each step; of those of the plain part */
    float
        mean_from; /* share of the course after which the weights are averaged: 1, the last ones are taken */
    float drop, drop_in; /* share of channels and of frame numbers that are left out at random */
    float chord_share;   /* weight of the chord's error against the role's */
    uint32_t seed;
    /* Called before each use of an example, to vary its frames and its count; may be NULL. */
    void (*vary)(void *user, size_t index, uint32_t *random, struct net_example *example);
    void *user;
};

/* Small weights at random; biases and the plain part begin with 0. */
void net_weights_start(struct net_weights *w, uint32_t seed);
/* Learns from the examples, going on from the weights in `w`.  `loss` (may be NULL) is the last epoch's mean,
   a weighed beat.  False on lack of memory; `w` is then as it was. */
bool net_train(struct net_weights *w, struct net_example *examples, size_t count, const struct net_plan *plan,
               double *loss);
/* Each weight as a byte, with a scale for each output: off by at most half of one part in US_NET_REACH of
   that output's largest weight.  `mix` as in struct us_harmony_net. */
void net_quantize(const struct net_weights *w, const struct net_plan *plan, float mix,
                  struct us_harmony_net *out);
/* The weights that the bytes stand for. */
void net_restore(const struct us_harmony_net *net, struct net_weights *out);
/* The next of a row of numbers, never 0 (xorshift: Marsaglia, J. Statistical Software 8(14), 2003). */
uint32_t net_random(uint32_t *state);
/* 0 to 1, without 1. */
float net_random_share(uint32_t *state);

#endif
