/* One tune through a network and back. */
#ifndef MODEL_NET_PASS_H
#define MODEL_NET_PASS_H

#include "net_train.h"

/* What a pass keeps for the way back, for tunes of up to `room` beats. */
struct net_pass {
    size_t room;
    float *frames;                   /* room * US_NET_IN: the tune's, with some numbers left out */
    float *out, *out_grad;           /* room * US_NET_OUT: of the layers */
    float *plain, *plain_grad;       /* the same of the plain part */
    float *layer[US_NET_DEEP + 1];   /* room * US_NET_HIDDEN: what each layer says */
    float *dropped[US_NET_DEEP + 1]; /* the same with some channels left out */
    float *gain[US_NET_DEEP + 1];    /* 0 or 1 / (1 - drop) */
    float *grad, *grad_before;       /* as a layer: what is wanted of it, and of the one before it */
    double *sums;                    /* room * 3: of the chain of roles, forwards */
};

/* `room` is at least 1.  False on lack of memory; there is nothing to finish then. */
bool net_pass_init(struct net_pass *pass, size_t room);
void net_pass_finish(struct net_pass *pass);
/* Fills out and plain for the example's beats.  `random` decides what is left out. */
void net_forward(struct net_pass *pass, const struct net_weights *w, const struct net_example *example,
                 const struct net_plan *plan, uint32_t *random);
/* From the errors in out_grad and plain_grad to the weights' gradients, which are added to `grad`. */
void net_backward(struct net_pass *pass, const struct net_weights *w, size_t count,
                  const struct net_plan *plan, struct net_weights *grad);
/* After net_forward: fills out_grad and plain_grad.  Returns the loss of the roles, summed over beats. */
double net_loss(struct net_pass *pass, const struct net_example *example, const struct net_plan *plan);

#endif
