#include "companion_learner.h"

#include "companion_voices.h"

#include "undersong/transpose.h"

/* The note that the player looks for on a keyboard that is matched by ear. */
enum { MATCH_PITCH = US_MIDDLE_C, MATCH_VELOCITY = 80 };

void us_learner_init(struct us_companion *c)
{
    us_hands_init(&c->hands);
    us_share_init(&c->share, c->settings.share);
    c->drill = c->settings.drill;
    us_loop_init(&c->loop, &c->settings.loop);
    c->match = c->settings.match_keyboard ? US_MATCH_TO_SOUND : US_MATCH_NONE;
    c->match_pressed = -1;
}

/* Whoever looks for it hears it with each key that is tried: by then it may have died away. */
static void sound_again(struct us_companion *c, struct us_actions *out)
{
    us_emit_off(out, &c->sounding, c->now_ns, US_VOICE_SECOND, MATCH_PITCH);
    us_emit_on(out, &c->sounding, c->now_ns, US_VOICE_SECOND, MATCH_PITCH, MATCH_VELOCITY);
    c->match = US_MATCH_SOUNDS;
}

/* The same key twice running is the player's answer: one tries a few before. */
static void match(struct us_companion *c, int pressed, struct us_actions *out)
{
    int semitones;
    bool sure = pressed == c->match_pressed;
    c->match_pressed = (int16_t)pressed;
    if (!sure || !us_transpose_by_ear(MATCH_PITCH + c->shift, pressed, &semitones)) {
        sound_again(c, out);
        return;
    }
    us_emit_all_off(out, &c->sounding, c->now_ns, US_VOICE_SECOND);
    c->match = US_MATCH_NONE;
    struct us_action *a = us_emit(out, c->now_ns, US_ACTION_TRANSPOSE, US_VOICE_MELODY);
    if (a) a->value = semitones;
    c->shift_to = c->shift + semitones;
}

bool us_learner_note_on(struct us_companion *c, const struct us_event *event, struct us_actions *out)
{
    if (c->match != US_MATCH_NONE) {
        match(c, event->pitch, out);
        return true;
    }
    if (!us_share_listens(&c->share)) return false;
    bool right = us_hands_note_on(&c->hands, c->now_ns, event->pitch) == US_HAND_RIGHT;
    for (int i = 0; i < c->hands.taken_back; i++) {
        us_share_note_on(&c->share, c->now_ns, c->hands.grip[i]);
        if (!c->hands.hand[c->hands.grip[i]]) us_share_note_off(&c->share, c->hands.grip[i]);
        us_voices_take_back(c, c->hands.grip[i]);
    }
    if (right) return false;
    c->learner_note = true;
    us_share_note_on(&c->share, c->now_ns, event->pitch);
    if (us_share_part(&c->share) == US_PART_NOTHING) us_left_release(&c->left, c->now_ns, out, &c->sounding);
    us_emit_on(out, &c->sounding, c->now_ns, US_VOICE_MELODY, event->pitch, event->velocity);
    return true;
}

bool us_learner_note_off(struct us_companion *c, int pitch)
{
    if (us_hands_note_off(&c->hands, pitch) == US_HAND_RIGHT) return false;
    us_share_note_off(&c->share, pitch);
    return true;
}

enum us_part us_learner_part(struct us_companion *c, bool on_bar, struct us_actions *out)
{
    enum us_role role = us_chord_role(c->choice.chord, c->key);
    if (!on_bar && !c->run.strong && c->settings.change != US_CHANGE_BEAT) {
        us_share_pass(&c->share, c->now_ns, c->choice.chord);
        return us_share_part(&c->share);
    }
    if (us_share_listens(&c->share) && us_share_expect(&c->share, c->now_ns, &c->choice, role, on_bar)) {
        struct us_action *a = us_emit(out, c->now_ns, US_ACTION_VERDICT, US_VOICE_LEFT);
        if (a) a->value = (int32_t)c->share.last.fit, a->chord = c->share.last.expected, a->key = c->key;
    }
    return us_share_part(&c->share);
}

static void tell_drill(struct us_companion *c, enum us_drill_news news, struct us_actions *out)
{
    if (news == US_DRILL_NOTHING) return;
    struct us_action *a = us_emit(out, c->now_ns, US_ACTION_DRILL, US_VOICE_MELODY);
    if (a) a->value = (int32_t)news, a->key = c->drill.asked;
}

void us_learner_melody(struct us_companion *c, int pitch, struct us_actions *out)
{
    if (c->drill.count) tell_drill(c, us_drill_note(&c->drill, pitch), out);
    if (!c->tune.leads || !c->loop.part.last) return;
    enum us_loop_news news = us_loop_note(&c->loop, &c->tune.score, c->now_ns, pitch);
    struct us_action *a = news ? us_emit(out, c->now_ns, US_ACTION_LOOP, US_VOICE_MELODY) : NULL;
    if (a) a->value = (int32_t)news;
}

void us_learner_run_over(struct us_companion *c, struct us_actions *out)
{
    if (c->drill.count) tell_drill(c, us_drill_run_over(&c->drill, c->key), out);
    us_share_rest(&c->share, c->now_ns);
}

void us_learner_tick(struct us_companion *c, struct us_actions *out)
{
    if (c->match != US_MATCH_TO_SOUND) return;
    us_emit_on(out, &c->sounding, c->now_ns, US_VOICE_SECOND, MATCH_PITCH, MATCH_VELOCITY);
    c->match = US_MATCH_SOUNDS;
}

int64_t us_learner_due(const struct us_companion *c)
{
    return c->match == US_MATCH_TO_SOUND ? c->now_ns : INT64_MAX;
}
