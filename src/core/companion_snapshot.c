#include "companion_ahead.h"
#include "companion_voices.h"

#include <math.h>
#include <string.h>

/* Key, place and chord. */
static void show_music(const struct us_companion *c, struct us_snapshot *out)
{
    us_keyfinder_best(&c->keys, &out->key_sure);
    out->key = c->key;
    out->metre = c->felt.metre;
    out->bar = c->felt.bar;
    out->bar_quarters = c->felt.bar_quarters;
    out->place_known = us_place_known(&c->felt);
    out->quarter_ns = c->felt.quarter_ns;
    out->chord = c->choice.chord;
    out->alternatives = c->choice.alternatives;
    memcpy(out->alternative, c->choice.alternative, sizeof out->alternative);
    memcpy(out->alternative_probability, c->choice.alternative_probability,
           sizeof out->alternative_probability);
    out->melody = c->melody;
    out->waiting = c->waiting;
}

/* How it is played along, and in what key it sounds. */
static void show_settings(const struct us_companion *c, struct us_snapshot *out)
{
    out->texture = c->settings.texture;
    out->sound_shift = c->shift;
    out->left_hand_on = c->left_on;
    out->key_locked = c->keys.locked;
    out->second_voice = c->settings.second_voice;
    out->round_state = c->second.state;
    out->round_bars = c->second.entry_bars;
    out->answering = us_voices_finish(c);
}

/* What the learner does beside the melody. */
static void show_learner(const struct us_companion *c, struct us_snapshot *out)
{
    out->learner_note = c->learner_note;
    out->matching = c->match != US_MATCH_NONE;
    out->share_level = c->share.level;
    out->verdict = c->share.last;
    out->loop = c->loop;
    out->drill_asked = c->drill.count ? c->drill.asked : (struct us_key){US_NO_KEY, US_MODE_MAJOR};
    out->drill_news = (enum us_drill_news)c->drill.last;
    out->drill_next = c->drill.count ? us_drill_after(&c->drill) : out->drill_asked;
}

/* After show_learner(): a drill says in which key the tune is shown. */
static void show_page(const struct us_companion *c, struct us_snapshot *out)
{
    out->page = c->page;
    double bar = us_metre_bar_quarters(c->felt.metre);
    if (c->run.running) out->page.here = (float)us_voices_place_now(c);
    if (bar > 0) out->page.line = (float)fmod(c->run.offset, bar);
    out->knows_tune = c->tune.leads;
    if (c->tune.leads)
        us_look_ahead(c, out);
    else
        us_look_at_beginning(c, out);
}

void us_companion_snapshot(const struct us_companion *c, struct us_snapshot *out)
{
    memset(out, 0, sizeof *out);
    out->at_ns = c->now_ns;
    show_music(c, out);
    show_settings(c, out);
    show_learner(c, out);
    show_page(c, out);
    memcpy(out->melody_down, c->sounding.down[US_VOICE_MELODY], sizeof out->melody_down);
    memcpy(out->left_down, c->sounding.down[US_VOICE_LEFT], sizeof out->left_down);
    memcpy(out->second_down, c->sounding.down[US_VOICE_SECOND], sizeof out->second_down);
}
