#include "harmony_hindsight.h"

#include <math.h>
#include <string.h>

#include "harmony_net.h"

enum { RING = US_HINDSIGHT_RING, ROLES = 3 };
enum { AFTER = US_HINDSIGHT_AFTER };

void us_hindsight_start(struct us_hindsight *s)
{
    s->frames = s->judged = s->told = s->waiting = 0;
    s->end = UINT32_MAX;
    for (int i = 0; i < ROLES; i++)
        s->chain[i] = 1.0f / ROLES;
}

float *us_hindsight_frame(struct us_hindsight *s)
{
    return s->frame[(s->frames + s->waiting++) % RING];
}

/* Adds up to one; alike where nothing is left of any. */
static void share_out(float p[ROLES])
{
    float sum = 0;
    for (int i = 0; i < ROLES; i++)
        sum += p[i];
    for (int i = 0; i < ROLES; i++)
        p[i] = sum > 0 ? p[i] / sum : 1.0f / ROLES;
}

/* Roles up to this beat, from those up to the beat before. */
static void go_on(struct us_hindsight *s, const float *said, bool first)
{
    float *here = s->here[s->judged % AFTER], *move = s->move[s->judged % AFTER], next[ROLES] = {0};
    for (int i = 0; i < ROLES; i++)
        here[i] = said[US_OUT_ROLE + i];
    us_softmax(here, ROLES);
    for (int i = 0; i < ROLES * ROLES; i++)
        move[i] = expf(said[US_OUT_PAIR + i]);
    for (int to = 0; to < ROLES; to++) {
        for (int from = 0; from < ROLES; from++)
            next[to] += s->chain[from] * (first ? 1 : move[from * ROLES + to]);
        next[to] *= here[to];
    }
    share_out(next);
    for (int i = 0; i < ROLES; i++)
        s->chain[i] = s->forward[s->judged % AFTER][i] = next[i];
    s->judged++;
}

/* The next beat to be told, in the light of those judged since. */
static void look_back(struct us_hindsight *s, float role[ROLES])
{
    float after[ROLES] = {1, 1, 1};
    uint32_t oldest = s->told++;
    for (uint32_t t = s->judged - 1; t > oldest; t--) {
        const float *here = s->here[t % AFTER], *move = s->move[t % AFTER];
        float before[ROLES] = {0};
        for (int from = 0; from < ROLES; from++)
            for (int to = 0; to < ROLES; to++)
                before[from] += move[from * ROLES + to] * here[to] * after[to];
        share_out(before);
        memcpy(after, before, sizeof after);
    }
    for (int i = 0; i < ROLES; i++)
        role[i] = s->forward[oldest % AFTER][i] * after[i];
    share_out(role);
}

bool us_hindsight_step(struct us_hindsight *s, const struct us_harmony_net *net, float role[ROLES],
                       uint32_t *back)
{
    float said[US_NET_ROLES_OUT] = {0};
    s->frames++;
    s->waiting--;
    if (!us_net_stream(net, s, said)) return false;
    go_on(s, said, s->judged == 0);
    if (s->judged - s->told < AFTER) return false;
    *back = s->frames + s->waiting - 1 - s->told;
    look_back(s, role);
    return true;
}

bool us_hindsight_finish(struct us_hindsight *s, const struct us_harmony_net *net, float role[ROLES],
                         uint32_t *back, bool *told)
{
    float said[US_NET_ROLES_OUT] = {0};
    *told = false;
    if (s->end == UINT32_MAX) s->end = s->frames + s->waiting;
    s->waiting = 0;
    if (s->told == s->end) return false;
    if (s->judged < s->end) {
        s->frames++;
        if (us_net_stream(net, s, said)) go_on(s, said, s->judged == 0);
        if (s->judged - s->told < AFTER) return true;
    }
    *back = s->end - 1 - s->told;
    look_back(s, role);
    *told = true;
    return true;
}
