/* Live: how often chords change, judged again between phrases. */
#include <math.h>
#include <string.h>

#include "harmony_live_parts.h"
#include "harmony_rate.h"

/* A note so much longer than the last ones closes a phrase; at the latest, one closes after so many bars. */
static const float LONG_NOTE = 1.6f, NEW_LENGTH_COUNTS = 0.15f;
enum { LONGEST_PHRASE = 8 };
/* Longer than tunes are: a player who does not rest between them has come to another one. */
enum { MOST_BEATS = 512 };
/* Another rate of change has to be so much likelier. */
static const float CLEARLY = 1.2f;

void us_harmony_live_notice_phrase(struct us_harmony_live *h, float length, float beat)
{
    if (h->usual > 0 && length >= LONG_NOTE * h->usual && length > beat - 1e-3f) h->phrase_over = true;
    h->usual = h->usual > 0 ? h->usual + NEW_LENGTH_COUNTS * (length - h->usual) : length;
}

/* Judged again only between phrases. */
static void find_rate(struct us_harmony_live *h, const struct us_position *position)
{
    bool first = h->rate == US_CHANGE_AUTO;
    bool over =
        h->phrase_over || position->bar - h->rate_bar >= LONGEST_PHRASE || position->bar < h->rate_bar;
    if (!first && !(position->on_bar && over)) return;
    float x[US_RATE_CLUES], rate[US_RATES];
    us_rate_numbers(&h->rate_clues, position->metre, h->key, us_harmony_live_style(h, position->metre), x);
    us_rate_judge(h->tables->rate_live, x, position->metre, rate);
    int best = first ? 0 : h->rate - US_CHANGE_BAR;
    float hold = first ? 1 : CLEARLY;
    for (int i = 0, held = best; i < US_RATES; i++)
        if (rate[i] > rate[best] * (best == held ? hold : 1)) best = i;
    h->rate = (uint8_t)(US_CHANGE_BAR + best);
    memcpy(h->rates, rate, sizeof rate);
    h->rate_bar = position->bar;
    h->phrase_over = false;
}

/* Where chords seldom change, the one that sounds is likelier to stay. */
static void linger(const struct us_harmony_live *h, const struct us_position *position, double role[US_ROLES])
{
    enum us_role now = us_chord_role(h->now.chord, h->key);
    if (!h->sounding || now == US_ROLE_NONE) return;
    role[now] *=
        exp(us_rate_stay(h->rates, position, h->frame[(h->beats - 1) % US_LIVE_REACH][US_FRAME_STYLE]));
    double sum = role[US_ROLE_I] + role[US_ROLE_IV] + role[US_ROLE_V];
    for (int r = US_ROLE_I; r < US_ROLES; r++)
        role[r] /= sum;
}

void us_harmony_live_weigh_rate(struct us_harmony_live *h, const struct us_position *position,
                                double role[US_ROLES])
{
    const float *frame = h->frame[(h->beats - 1) % US_LIVE_REACH];
    us_rate_end_beat(&h->rate_clues, h->key, frame);
    if (h->rate_clues.beats >= MOST_BEATS) us_rate_forget(&h->rate_clues);
    us_rate_begin_beat(&h->rate_clues, position, frame, role);
    if (position->metre.top == 0) return;
    find_rate(h, position);
    if (h->change == US_CHANGE_AUTO) linger(h, position, role);
}
