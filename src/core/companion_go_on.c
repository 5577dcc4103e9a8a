#include "companion_tune.h"
#include "companion_voices.h"

static bool same_part(const struct us_loop_part *a, const struct us_loop_part *b)
{
    return a->first == b->first && a->last == b->last;
}

static bool same_keys(const struct us_drill *a, const struct us_drill *b)
{
    bool same = a->count == b->count;
    for (int i = 0; same && i < a->count; i++)
        same = us_key_equal(a->keys[i], b->keys[i]);
    return same;
}

void us_companion_go_on(struct us_companion *c, const struct us_companion_settings *settings)
{
    const struct us_companion_settings before = c->settings;
    const struct us_event panic = {.at_ns = c->now_ns, .kind = US_EVENT_PANIC};
    struct us_actions unheard;
    us_companion_step(c, &panic, &unheard);
    c->settings = *settings;
    c->harmony.tables = settings->tables ? settings->tables : &us_harmony_built_in;
    us_harmony_live_settings(&c->harmony, settings->chords, settings->change);
    if (!us_key_equal(settings->key, before.key)) us_keyfinder_lock(&c->keys, settings->key);
    bool other_tune = settings->tune != before.tune || settings->songbook != before.songbook;
    bool other_part = other_tune || !same_part(&settings->loop, &before.loop);
    if (other_tune) {
        us_known_tune_init(&c->tune, settings);
        us_loop_init(&c->loop, &c->settings.loop);
        us_voices_init(c);
    } else if (other_part) {
        us_score_loop(&c->tune.score, settings->loop.first, settings->loop.last);
        us_loop_init(&c->loop, &c->settings.loop);
    }
    if (!same_keys(&settings->drill, &before.drill))
        c->drill = settings->drill;
    else if (other_part)
        us_drill_another_tune(&c->drill);
    if (settings->second_voice != before.second_voice || settings->round_bars != before.round_bars)
        us_voices_init(c);
    if (settings->share != before.share) us_share_init(&c->share, settings->share);
    if (settings->sound_shift != before.sound_shift) c->shift = c->shift_to = settings->sound_shift;
    if (settings->left_hand_off != before.left_hand_off) c->left_on = !settings->left_hand_off;
}
