#include "companion_control.h"

#include "companion_learner.h"
#include "companion_voices.h"

/* Keys that are down count as let go: where the instrument was lost their releases never come. */
static void let_go_of_keys(struct us_companion *c)
{
    for (int pitch = 0; pitch < US_PITCHES; pitch++) {
        if (!us_sounds(&c->sounding, US_VOICE_MELODY, pitch)) continue;
        us_follower_note_off(&c->follower, c->now_ns, pitch);
        us_learner_note_off(c, pitch);
    }
}

void us_companion_panic(struct us_companion *c, struct us_actions *out)
{
    us_left_release(&c->left, c->now_ns, out, &c->sounding);
    us_learner_run_over(c, out);
    us_voices_end(c, out);
    let_go_of_keys(c);
    for (int voice = 0; voice < US_VOICES; voice++)
        us_emit_all_off(out, &c->sounding, c->now_ns, (enum us_voice)voice);
    if (c->pedal) us_emit(out, c->now_ns, US_ACTION_PEDAL, US_VOICE_MELODY);
    c->pedal = 0;
    for (int voice = 0; voice < US_VOICES; voice++)
        us_emit(out, c->now_ns, US_ACTION_ALL_OFF, (enum us_voice)voice);
    c->ended = true;
    c->waiting = false;
}

/* Off, on, or the other way, by a value of 0, 1 or 2; any other leaves it as it is. */
static bool switched(bool now, int value)
{
    return value == 2 ? !now : value == 0 || value == 1 ? value : now;
}

static void lock_key(struct us_companion *c, int value)
{
    if (value < 0 || value > 2) return;
    bool lock = switched(c->keys.locked, value);
    us_keyfinder_lock(&c->keys, lock ? c->key : (struct us_key){US_NO_KEY, US_MODE_MAJOR});
}

static void switch_second_voice(struct us_companion *c, int value, struct us_actions *out)
{
    if (value < US_SECOND_NONE || value > US_SECOND_ROUND) return;
    us_voices_end(c, out);
    c->settings.second_voice = (enum us_second_voice)value;
    us_voices_init(c);
}

void us_companion_control(struct us_companion *c, const struct us_event *event, struct us_actions *out)
{
    int value = event->value;
    switch (event->control) {
    case US_CONTROL_NEXT_TEXTURE: c->settings.texture = (c->settings.texture + 1) % US_TEXTURES; break;
    case US_CONTROL_TEXTURE:
        if (value >= 0 && value < US_TEXTURES) c->settings.texture = (enum us_texture)value;
        break;
    case US_CONTROL_KEY_LOCK: lock_key(c, value); break;
    case US_CONTROL_LEFT_HAND:
        c->left_on = switched(c->left_on, value);
        if (!c->left_on) us_left_release(&c->left, c->now_ns, out, &c->sounding);
        break;
    case US_CONTROL_CHANGE:
        if (value >= US_CHANGE_AUTO && value <= US_CHANGE_BEAT) c->settings.change = (enum us_change)value;
        us_harmony_live_settings(&c->harmony, c->settings.chords, c->settings.change);
        break;
    case US_CONTROL_CHORDS:
        if (value >= US_CHORDS_I && value <= US_CHORDS_WIDE) c->settings.chords = (enum us_chords)value;
        us_harmony_live_settings(&c->harmony, c->settings.chords, c->settings.change);
        break;
    case US_CONTROL_SHARE:
        if (value < US_SHARE_AUTO || value > 100) break;
        c->settings.share = value;
        us_share_init(&c->share, value);
        break;
    case US_CONTROL_SECOND_VOICE: switch_second_voice(c, value, out); break;
    case US_CONTROL_SOUND_SHIFT:
        if (value < -12 || value > 12) break;
        us_companion_panic(c, out); /* still with the shift with which it began */
        c->shift_to = value;
        break;
    case US_CONTROL_TAP: us_follower_tap(&c->follower, c->now_ns); break;
    default: break;
    }
}
