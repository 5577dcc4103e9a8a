#include "left_hand.h"

#include <math.h>
#include <string.h>

/* Two places in the bar closer than this are the same one. */
static const double SAME_PLACE = 0.02;

void us_left_init(struct us_left_hand *left)
{
    memset(left, 0, sizeof *left);
    left->velocity = 64;
    left->second = -1;
    left->quarter_ns = 6e8;
}

/* What is over at `place` ends, and what is not below `ceiling`. */
static void release(struct us_left_hand *left, double place, int ceiling, int64_t now_ns,
                    struct us_actions *out, struct us_sounding *sounding)
{
    uint8_t kept = 0;
    for (uint8_t i = 0; i < left->held_count; i++) {
        if (left->held[i].until <= place + SAME_PLACE || left->held[i].pitch >= ceiling)
            us_emit_off(out, sounding, now_ns, US_VOICE_LEFT, left->held[i].pitch);
        else
            left->held[kept++] = left->held[i];
    }
    left->held_count = kept;
}

static void release_until(struct us_left_hand *left, double place, int64_t now_ns, struct us_actions *out,
                          struct us_sounding *sounding)
{
    release(left, place, US_PITCHES, now_ns, out, sounding);
}

static void hold(struct us_left_hand *left, uint8_t pitch, double until)
{
    for (uint8_t i = 0; i < left->held_count; i++) {
        if (left->held[i].pitch != pitch) continue;
        left->held[i].until = until;
        return;
    }
    if (left->held_count < sizeof left->held / sizeof *left->held)
        left->held[left->held_count++] = (struct us_held){pitch, until};
}

static void strike(struct us_left_hand *left, const struct us_strike *s, int64_t now_ns,
                   struct us_actions *out, struct us_sounding *sounding)
{
    struct us_voicing notes = us_texture_fit(us_texture_fit(s->notes, left->melody), left->second);
    for (uint8_t i = 0; i < notes.count; i++) {
        if (left->held_count == sizeof left->held / sizeof *left->held) return;
        us_emit_on(out, sounding, now_ns, US_VOICE_LEFT, notes.pitch[i], left->velocity * s->level / 100);
        hold(left, notes.pitch[i], s->at + s->len);
    }
}

void us_left_release(struct us_left_hand *left, int64_t now_ns, struct us_actions *out,
                     struct us_sounding *sounding)
{
    release_until(left, INFINITY, now_ns, out, sounding);
    left->planned = left->next = 0;
}

void us_left_begin(struct us_left_hand *left, const struct us_left_order *order, struct us_actions *out,
                   struct us_sounding *sounding)
{
    us_left_release(left, left->here_ns, out, sounding);
    struct us_voicing_context context = order->context;
    context.before = left->before;
    context.melody_before = left->melody_before;
    left->bar_end = fmax(us_metre_bar_quarters(order->metre), left->here + 0.25);
    left->before = us_texture_hand(order->texture, order->chord, &context);
    left->planned = (uint8_t)us_texture_bar_of(left->before, order->texture, order->chord, order->role,
                                               order->metre, left->here, left->bar_end, &context, left->plan);
    left->melody_before = left->melody = context.melody;
    us_left_play(left, left->here_ns, out, sounding);
}

void us_left_place(struct us_left_hand *left, int64_t now_ns, double bar_quarters, double quarter_ns,
                   double next_beat)
{
    left->here = bar_quarters;
    left->here_ns = now_ns;
    left->quarter_ns = quarter_ns;
    left->next_beat = next_beat;
}

void us_left_give_way(struct us_left_hand *left, int melody, int64_t now_ns, struct us_actions *out,
                      struct us_sounding *sounding)
{
    release(left, -INFINITY, melody, now_ns, out, sounding);
}

static double place_at(const struct us_left_hand *left, int64_t now_ns)
{
    return left->here + (double)(now_ns - left->here_ns) / left->quarter_ns;
}

void us_left_play(struct us_left_hand *left, int64_t now_ns, struct us_actions *out,
                  struct us_sounding *sounding)
{
    double place = place_at(left, now_ns);
    /* By time alone nothing is played that belongs to a beat which has not come yet. */
    if (now_ns != left->here_ns) place = fmin(place, left->next_beat - 2 * SAME_PLACE);
    uint8_t last = left->next;
    while (last < left->planned && left->plan[last].at <= place + SAME_PLACE)
        last++;
    if (last == left->next) {
        if (place < left->bar_end - SAME_PLACE) release_until(left, place, now_ns, out, sounding);
        return;
    }
    const struct us_strike *due = &left->plan[last - 1];
    release_until(left, due->at, now_ns, out, sounding);
    strike(left, due, now_ns, out, sounding);
    left->next = last;
}

/* The next place in the bar at which something happens by time alone. */
static double next_place(const struct us_left_hand *left)
{
    double place = INFINITY;
    if (left->next < left->planned) place = left->plan[left->next].at;
    for (uint8_t i = 0; i < left->held_count; i++)
        if (left->held[i].until < place) place = left->held[i].until;
    return place < left->next_beat - SAME_PLACE && place < left->bar_end - SAME_PLACE ? place : INFINITY;
}

int64_t us_left_due(const struct us_left_hand *left)
{
    double place = next_place(left);
    if (isinf(place)) return INT64_MAX;
    double wait = (place - left->here) * left->quarter_ns;
    return left->here_ns + (wait > 0 ? (int64_t)ceil(wait) + 1 : 1);
}
