#include "companion_voices.h"

#include <string.h>

/* How far ahead a known tune is shown, in bars. */
static const double AHEAD_BARS = 4;

/* What a known tune brings next, in the key in which it is played, after the page's own notes. */
static void look_ahead(const struct us_known_tune *t, double felt_at, struct us_page *page)
{
    const struct us_score *score = t->score.score;
    const struct us_tune *tune = &score->tune;
    double here = t->beat.here, until = here + AHEAD_BARS * us_metre_bar_quarters(tune->metre);
    double shift = felt_at - here;
    int up = t->score.transposition > 6 ? t->score.transposition - 12 : t->score.transposition;
    int end =
        t->score.loop_last && t->score.place <= t->score.loop_last ? t->score.loop_last + 1 : score->count;
    for (int i = t->score.place + 1; i < end && (double)score->at[i] < until; i++)
        us_page_note_ahead(page, (double)score->at[i] + shift, tune->notes[i].len, score->pitch[i] + up);
    for (size_t i = 0; i < tune->chord_count; i++) {
        const struct us_chord_span *span = &tune->chords[i];
        if (span->at <= here + 0.02 || span->at >= until || span->chord.root == US_NO_CHORD) continue;
        struct us_chord chord = {(int8_t)us_pitch_class(span->chord.root + up), span->chord.kind};
        us_page_chord_ahead(page, span->at + shift, chord);
    }
}

void us_companion_snapshot(const struct us_companion *c, struct us_snapshot *out)
{
    memset(out, 0, sizeof *out);
    out->at_ns = c->now_ns;
    us_keyfinder_best(&c->keys, &out->key_sure);
    out->key = c->key;
    out->metre = c->felt.metre;
    out->bar = c->felt.bar;
    out->bar_quarters = c->felt.bar_quarters;
    out->place_known = us_place_known(&c->felt);
    out->quarter_ns = c->felt.quarter_ns;
    out->chord = c->choice.chord;
    out->sound_shift = c->shift;
    out->learner_note = c->learner_note;
    out->alternatives = c->choice.alternatives;
    memcpy(out->alternative, c->choice.alternative, sizeof out->alternative);
    memcpy(out->alternative_probability, c->choice.alternative_probability,
           sizeof out->alternative_probability);
    out->melody = c->melody;
    out->texture = c->settings.texture;
    out->left_hand_on = c->left_on;
    out->key_locked = c->keys.locked;
    out->waiting = c->waiting;
    out->matching = c->match != US_MATCH_NONE;
    out->answering = us_voices_finish(c);
    out->round_state = c->second.state;
    out->round_bars = c->second.entry_bars;
    out->share_level = c->share.level;
    out->verdict = c->share.last;
    out->loop = c->loop;
    out->drill_asked = c->drill.count ? c->drill.asked : (struct us_key){US_NO_KEY, US_MODE_MAJOR};
    out->drill_news = (enum us_drill_news)c->drill.last;
    out->drill_next = c->drill.count ? us_drill_after(&c->drill) : out->drill_asked;
    out->page = c->page;
    if (c->run.running) out->page.here = (float)us_voices_place_now(c);
    out->knows_tune = c->tune.leads;
    if (c->tune.leads) {
        look_ahead(&c->tune, c->run.at, &out->page);
        const char *title = c->tune.score.score->tune.title;
        strncpy(out->title, title ? title : "", sizeof out->title - 1);
    }
    memcpy(out->melody_down, c->sounding.down[US_VOICE_MELODY], sizeof out->melody_down);
    memcpy(out->left_down, c->sounding.down[US_VOICE_LEFT], sizeof out->left_down);
    memcpy(out->second_down, c->sounding.down[US_VOICE_SECOND], sizeof out->second_down);
}
