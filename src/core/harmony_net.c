#include "harmony_net.h"

#include <math.h>
#include <string.h>

#include "harmony_frame.h"
#include "harmony_internal.h"
#include "harmony_rows.h"

enum { TAPS = US_NET_TAPS, IN = US_NET_IN, HIDDEN = US_NET_HIDDEN, OUT = US_NET_OUT };
enum { ROLES_OUT = US_NET_ROLES_OUT };
_Static_assert((int)US_NET_ROLES_OUT <= (int)US_ROWS_ROLES, "the rows give all roles");

/* Below this style the plain part is left out live. */
static const float DANCE = 0.05f;

static float positive(float x)
{
    return x > 0 ? x : 0;
}

/* The outputs that are asked for. */
static void add_outs(const float *x, int rows, const uint8_t *weights, int outs, float sum[OUT])
{
    if (outs == OUT)
        us_rows_out(x, rows, weights, sum);
    else
        us_rows_roles(x, rows, weights, sum);
}

/* One tap of the first layer: most of a frame is zero. */
static void hear_frame(const struct us_harmony_net *net, int tap, const float *frame, float *sum)
{
    us_rows_hidden(frame, IN, &net->first[tap * IN * HIDDEN], sum);
}

/* The same for the plain part. */
static void hear_plainly(const struct us_harmony_net *net, int tap, const float *frame, int outs,
                         float *plain)
{
    add_outs(frame, IN, &net->plain[tap * IN * OUT], outs, plain);
}

static void hear_layer(const struct us_harmony_net *net, int layer, int tap, const float *before, float *sum)
{
    const uint8_t *weights = &net->deep[(layer * TAPS + tap) * HIDDEN * HIDDEN];
    us_rows_hidden(before, HIDDEN, weights, sum);
}

static void close_first(const struct us_harmony_net *net, const float *sum, float *out)
{
    for (int i = 0; i < HIDDEN; i++)
        out[i] = positive(sum[i] * net->first_scale[i] + net->first_bias[i]);
}

static void close_deep(const struct us_harmony_net *net, int layer, const float *sum, const float *before,
                       float *out)
{
    const float *scale = &net->deep_scale[layer * HIDDEN], *bias = &net->deep_bias[layer * HIDDEN];
    for (int i = 0; i < HIDDEN; i++)
        out[i] = before[i] + positive(sum[i] * scale[i] + bias[i]);
}

/* What the layers say for a dance and what the notes say for a hymn, by how hymn-like the tune is. */
static void close_net(const struct us_harmony_net *net, const float *hidden, const float *plain, float style,
                      int outs, float *out)
{
    float sum[OUT] = {0};
    add_outs(hidden, HIDDEN, net->last, outs, sum);
    for (int i = 0; i < outs; i++)
        out[i] =
            us_bounded(out[i] + (1 - net->mix * style) * (sum[i] * net->last_scale[i] + net->last_bias[i]) +
                       net->mix * style * (plain[i] * net->plain_scale[i] + net->plain_bias[i]));
}

static void run_layer(const struct us_harmony_net *net, int layer, const float *before, size_t count,
                      float *after)
{
    size_t apart = (size_t)2 << layer;
    for (size_t t = 0; t < count; t++) {
        float sum[HIDDEN] = {0};
        if (t >= apart) hear_layer(net, layer, 0, &before[(t - apart) * HIDDEN], sum);
        hear_layer(net, layer, 1, &before[t * HIDDEN], sum);
        if (t + apart < count) hear_layer(net, layer, 2, &before[(t + apart) * HIDDEN], sum);
        close_deep(net, layer, sum, &before[t * HIDDEN], &after[t * HIDDEN]);
    }
}

static void hear_around(const struct us_harmony_net *net, const float *frames, size_t count, size_t t,
                        float *sum, float *plain)
{
    for (size_t tap = 0; tap < TAPS; tap++)
        if (t + tap >= 1 && t + tap - 1 < count) {
            hear_frame(net, (int)tap, &frames[(t + tap - 1) * IN], sum);
            hear_plainly(net, (int)tap, &frames[(t + tap - 1) * IN], OUT, plain);
        }
}

void us_net_whole(const struct us_harmony_net *net, const float *frames, size_t count, float *scratch,
                  float *out)
{
    float *before = scratch, *after = scratch + count * HIDDEN;
    for (size_t t = 0; t < count; t++) {
        float sum[HIDDEN] = {0}, plain[OUT] = {0};
        hear_around(net, frames, count, t, sum, plain);
        close_first(net, sum, &before[t * HIDDEN]);
        float style = net->mix * frames[t * IN + US_FRAME_STYLE];
        for (size_t i = 0; i < OUT; i++)
            out[t * OUT + i] += style * plain[i] * net->plain_scale[i];
    }
    for (int layer = 0; layer < net->deep_layers; layer++) {
        run_layer(net, layer, before, count, after);
        float *swap = before;
        before = after;
        after = swap;
    }
    const float none[OUT] = {0};
    for (size_t t = 0; t < count; t++)
        close_net(net, &before[t * HIDDEN], none, frames[t * IN + US_FRAME_STYLE], OUT, &out[t * OUT]);
}

/* What the beats before this one give to a layer. */
static void hear_past(const struct us_harmony_net *net, const struct us_net_memory *memory, int layer,
                      uint32_t beat, float sum[HIDDEN])
{
    uint32_t apart = 2u << layer;
    memset(sum, 0, HIDDEN * sizeof *sum);
    for (uint32_t tap = 0; tap + 1 < TAPS; tap++) {
        uint32_t back = (TAPS - 1 - tap) * apart;
        if (back <= beat)
            hear_layer(net, layer, (int)tap, memory->layer[layer][(beat - back) % US_LIVE_REACH], sum);
    }
}

void us_net_prepare(const struct us_harmony_net *net, struct us_net_memory *memory, uint32_t beat,
                    const float *const frames[TAPS])
{
    if (memory->prepared == beat + 1) return;
    memset(memory->first, 0, sizeof memory->first);
    for (int tap = 0; tap + 1 < TAPS; tap++)
        if (frames[tap]) hear_frame(net, tap, frames[tap], memory->first);
    for (int layer = 0; layer < net->deep_layers; layer++)
        hear_past(net, memory, layer, beat, memory->ahead[layer]);
    memory->prepared = beat + 1;
}

void us_net_live(const struct us_harmony_net *net, struct us_net_memory *memory, uint32_t beat,
                 const float *const frames[TAPS], int outs, float *out)
{
    float sum[HIDDEN], plain[OUT] = {0};
    us_net_prepare(net, memory, beat, frames);
    memcpy(sum, memory->first, sizeof sum);
    hear_frame(net, TAPS - 1, frames[TAPS - 1], sum);
    float *now = memory->layer[0][beat % US_LIVE_REACH];
    close_first(net, sum, now);
    for (int layer = 0; layer < net->deep_layers; layer++) {
        memcpy(sum, memory->ahead[layer], sizeof sum);
        hear_layer(net, layer, TAPS - 1, now, sum);
        float *next = memory->layer[layer + 1][beat % US_LIVE_REACH];
        close_deep(net, layer, sum, now, next);
        now = next;
    }
    float style = frames[TAPS - 1][US_FRAME_STYLE];
    for (int tap = 0; tap < TAPS && outs && style >= DANCE; tap++)
        if (frames[tap]) hear_plainly(net, tap, frames[tap], outs, plain);
    if (outs) close_net(net, now, plain, style, outs, out);
}

/* The positions of a layer that its taps hear, where they exist. */
static void stream_layer(const struct us_harmony_net *net, struct us_hindsight *s, int layer, uint32_t at)
{
    uint32_t apart = 2u << layer;
    float sum[HIDDEN] = {0};
    float(*ring)[HIDDEN] = s->layer[layer];
    if (at >= apart) hear_layer(net, layer, 0, ring[(at - apart) % US_HINDSIGHT_RING], sum);
    hear_layer(net, layer, 1, ring[at % US_HINDSIGHT_RING], sum);
    if (at + apart < s->end) hear_layer(net, layer, 2, ring[(at + apart) % US_HINDSIGHT_RING], sum);
    close_deep(net, layer, sum, ring[at % US_HINDSIGHT_RING], s->layer[layer + 1][at % US_HINDSIGHT_RING]);
}

/* The frame that a tap of the first layer hears from position `at`; NULL before the first and after the last.
 */
static const float *stream_frame(const struct us_hindsight *s, uint32_t at, uint32_t tap)
{
    return at + tap >= 1 && at + tap - 1 < s->end ? s->frame[(at + tap - 1) % US_HINDSIGHT_RING] : NULL;
}

bool us_net_stream(const struct us_harmony_net *net, struct us_hindsight *s, float out[ROLES_OUT])
{
    float sum[HIDDEN] = {0}, plain[OUT] = {0};
    if (s->frames < 2) return false;
    uint32_t at = s->frames - 2;
    for (uint32_t tap = 0; tap < TAPS && at < s->end; tap++)
        if (stream_frame(s, at, tap)) hear_frame(net, (int)tap, stream_frame(s, at, tap), sum);
    if (at < s->end) close_first(net, sum, s->layer[0][at % US_HINDSIGHT_RING]);
    for (int layer = 0; layer < net->deep_layers; layer++) {
        uint32_t apart = 2u << layer;
        if (at < apart) return false;
        at -= apart;
        if (at < s->end) stream_layer(net, s, layer, at);
    }
    if (at >= s->end) return false;
    float style = s->frame[at % US_HINDSIGHT_RING][US_FRAME_STYLE];
    for (uint32_t tap = 0; tap < TAPS && style >= DANCE; tap++)
        if (stream_frame(s, at, tap)) hear_plainly(net, (int)tap, stream_frame(s, at, tap), ROLES_OUT, plain);
    close_net(net, s->layer[net->deep_layers][at % US_HINDSIGHT_RING], plain, style, ROLES_OUT, out);
    return true;
}

void us_softmax(float *x, int count)
{
    float most = x[0], sum = 0;
    for (int i = 1; i < count; i++)
        most = fmaxf(most, x[i]);
    for (int i = 0; i < count; i++)
        sum += x[i] = expf(x[i] - most);
    for (int i = 0; i < count; i++)
        x[i] /= sum;
}
