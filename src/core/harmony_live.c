/* Live: what has sounded, and nothing else. */
#include "harmony_internal.h"

#include <math.h>
#include <string.h>

void us_harmony_live_init(struct us_harmony_live *h, const struct us_harmony_tables *tables,
                          enum us_chords chords, enum us_change change)
{
    memset(h, 0, sizeof *h);
    h->tables = tables;
    us_harmony_live_settings(h, chords, change);
    h->key.tonic = US_NO_KEY;
    us_harmony_live_fresh(h);
}

void us_harmony_live_settings(struct us_harmony_live *h, enum us_chords chords, enum us_change change)
{
    h->chords = (uint8_t)chords;
    h->change = (uint8_t)change;
}

void us_harmony_live_fresh(struct us_harmony_live *h)
{
    h->sounding = false;
    h->last_beat = -INFINITY;
    for (int r = 0; r < US_ROLES; r++)
        h->belief[r] = r == US_ROLE_I ? 0.8 : r == US_ROLE_NONE ? 0.0 : 0.1;
}

static double quarters_of(const struct us_position *position)
{
    return position->bar * us_metre_bar_quarters(position->metre) + position->bar_quarters;
}

void us_harmony_live_note(struct us_harmony_live *h, struct us_key key, const struct us_position *position,
                          int pitch)
{
    h->key = key;
    struct us_live_note note = {(float)quarters_of(position), (uint8_t)pitch};
    h->note[h->notes++ % US_LIVE_NOTES] = note;
}

static void normalise(double role[US_ROLES])
{
    double sum = role[US_ROLE_I] + role[US_ROLE_IV] + role[US_ROLE_V];
    role[US_ROLE_NONE] = 0;
    for (int r = US_ROLE_I; r < US_ROLES; r++)
        role[r] /= sum;
}

/* One step of the forward algorithm: the notes since the last decision speak for the chord before, the note
   on this beat for the chord to come. */
static void advance(struct us_harmony_live *h, const struct us_position *position, double now)
{
    double next[US_ROLES] = {0};
    for (int to = US_ROLE_I; to < US_ROLES; to++)
        for (int from = US_ROLE_I; from < US_ROLES; from++)
            next[to] += h->belief[from] *
                        exp(us_harmony_move((enum us_role)from, (enum us_role)to, position->on_bar));
    memcpy(h->belief, next, sizeof next);
    if (h->notes) {
        struct us_live_note last = h->note[(h->notes - 1) % US_LIVE_NOTES];
        double weight = last.at > now - 0.2 ? 1.0 : 0.3;
        for (int r = US_ROLE_I; r < US_ROLES; r++)
            h->belief[r] *= exp(weight * us_harmony_fit(h->key, (enum us_role)r, last.pitch));
    }
    normalise(h->belief);
}

void us_harmony_live_decide(struct us_harmony_live *h, struct us_key key, const struct us_position *position,
                            struct us_choice *out)
{
    h->key = key;
    if (key.tonic == US_NO_KEY) {
        us_harmony_choose(h->belief, key, (enum us_chords)h->chords, out);
        return;
    }
    advance(h, position, quarters_of(position));
    if (!h->sounding || us_harmony_may_change((enum us_change)h->change, position))
        us_harmony_choose(h->belief, key, (enum us_chords)h->chords, &h->now);
    h->sounding = true;
    *out = h->now;
}
