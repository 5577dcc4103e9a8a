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
    float *frames; /* count * US_NET_IN */
    int8_t *role;  /* 0 to 2 */
    int8_t *chord; /* 0 to US_HARMONY_CLASSES - 1 */
    size_t count;
    float weight;
    float style; /* 0 to 1: how much it teaches the plain part */
};

struct net_plan {
    bool live;
    int deep_layers, epochs, tunes_a_step;
    float rate, decay, plain_decay;
    float
        mean_from; /* share of the course after which the weights are averaged: 1, the last ones are taken */
    float drop, drop_in; /* share of channels and of frame numbers that are left out at random */
    float chord_share;   /* weight of the chord's error against the role's */
    uint32_t seed;
    /* Called before each use of an example, to vary it; may be NULL. */
    void (*vary)(void *user, size_t index, uint32_t *random, struct net_example *example);
    void *user;
};

void net_weights_start(struct net_weights *w, uint32_t seed);
/* Returns the mean loss of the last epoch; false on lack of memory. */
bool net_train(struct net_weights *w, struct net_example *examples, size_t count, const struct net_plan *plan,
               double *loss);
void net_quantize(const struct net_weights *w, const struct net_plan *plan, float mix,
                  struct us_harmony_net *out);
void net_restore(const struct us_harmony_net *net, struct net_weights *out);
uint32_t net_random(uint32_t *state);
/* 0 to 1, without 1. */
float net_random_share(uint32_t *state);

#endif
