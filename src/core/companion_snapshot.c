#include "companion_state.h"

#include <string.h>

void us_companion_snapshot(const struct us_companion *c, struct us_snapshot *out)
{
    memset(out, 0, sizeof *out);
    out->at_ns = c->now_ns;
    us_keyfinder_best(&c->keys, &out->key_sure);
    out->key = c->key;
    out->metre = c->felt.metre;
    out->bar = c->felt.bar;
    out->bar_quarters = c->felt.bar_quarters;
    out->quarter_ns = c->felt.quarter_ns;
    out->chord = c->choice.chord;
    out->alternatives = c->choice.alternatives;
    memcpy(out->alternative, c->choice.alternative, sizeof out->alternative);
    memcpy(out->alternative_probability, c->choice.alternative_probability,
           sizeof out->alternative_probability);
    out->melody = c->melody;
    out->texture = c->settings.texture;
    out->left_hand_on = c->left_on;
    out->key_locked = c->keys.locked;
    out->waiting = c->waiting;
    out->round_state = c->second.state;
    out->round_bars = c->second.entry_bars;
    out->share_level = c->share.level;
    out->verdict = c->share.last;
    out->drill_asked = c->drill.count ? c->drill.asked : (struct us_key){US_NO_KEY, US_MODE_MAJOR};
    out->drill_next = c->drill.count ? us_drill_after(&c->drill) : out->drill_asked;
    memcpy(out->melody_down, c->sounding.down[US_VOICE_MELODY], sizeof out->melody_down);
    memcpy(out->left_down, c->sounding.down[US_VOICE_LEFT], sizeof out->left_down);
    memcpy(out->second_down, c->sounding.down[US_VOICE_SECOND], sizeof out->second_down);
}
