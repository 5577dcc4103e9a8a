#include "companion_strain.h"

#include <math.h>

/* A key is better known later: the commonest of so many notes, as another may have begun after them. */
enum { KEY_LATER = 24 };
static const double SAME_PLACE = 0.02;
enum { LONG_RUN = 6 };

void us_companion_strain_note(struct us_companion *c, int pitch)
{
    const struct us_felt *felt = &c->felt;
    uint32_t onset = us_follower_onsets(&c->follower) - 1;
    const struct us_strain *s = &c->strain;
    bool heard = s->is_waiting || s->score.count;
    if (heard && (s->is_waiting ? s->waits : s->last).onset == onset) return; /* another key of it */
    double bar = us_metre_bar_quarters(felt->metre);
    struct us_strain_note note = {
        .at_ns = c->now_ns,
        .place = felt->bar * bar + felt->bar_quarters,
        .bar = bar,
        .bar_quarters = felt->bar_quarters,
        .quarter_ns = felt->quarter_ns,
        .key = c->key,
        .onset = onset,
        .pitch = (int16_t)pitch,
        .starts = felt->on_bar || felt->fresh,
    };
    us_strain_hear(&c->strain, &note);
}

/* Whoever goes back is elsewhere in the bar from there on; a rhythm that is read otherwise for a while is not
   that, nor is a turn that comes again in the middle of a bar, unless it goes on. */
static bool has_gone_back(const struct us_strain *s)
{
    int first = s->place - s->run;
    bool from_a_line = first >= 0 && s->note[first].starts;
    return fabs(s->off) > SAME_PLACE && s->agree < 2 && s->offs >= 2 && (from_a_line || s->run >= LONG_RUN);
}

void us_companion_strain_tick(struct us_companion *c)
{
    struct us_strain *s = &c->strain;
    bool before = s->again;
    if (!us_strain_work(s)) return;
    const struct us_strain_note *then = &s->note[s->place];
    if (!before) us_harmony_live_again(&c->harmony);
    if (has_gone_back(s)) us_follower_again(&c->follower, then->onset, then->bar_quarters);
}

struct us_key us_companion_strain_key(const struct us_companion *c)
{
    const struct us_strain *s = &c->strain;
    struct us_key common = {US_NO_KEY, US_MODE_MAJOR};
    uint8_t times[US_KEY_COUNT] = {0}, most = 0;
    if (!s->again || !s->up) return common;
    for (int i = s->place; i < s->score.count && i <= s->place + KEY_LATER; i++) {
        struct us_key key = s->note[i].key;
        if (key.tonic == US_NO_KEY) continue;
        uint8_t *heard = &times[key.tonic * US_MODES + key.mode];
        if (++*heard < most) continue;
        most = *heard;
        common = key;
    }
    if (common.tonic != US_NO_KEY) common.tonic = (int8_t)us_pitch_class(common.tonic + s->up);
    return common;
}
