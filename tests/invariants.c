#include "invariants.h"

#include <stdio.h>

/* How many notes may sound in the left hand and in a second voice. */
enum { LEFT_MAX = US_LEFT_NOTES_MAX, SECOND_MAX = 1 };
/* Ticks asked for between two events of the player: beats until the pause is noticed, no more. */
enum { TICKS_MAX = 4000 };

static void broke(struct invariants *v, const char *what, const struct us_action *a)
{
    if (v->broken[0]) return;
    if (a)
        snprintf(v->broken, sizeof v->broken, "%s: kind %u, voice %u, pitch %u, velocity %u at %lld ns", what,
                 a->kind, a->voice, a->pitch, a->velocity, (long long)a->at_ns);
    else
        snprintf(v->broken, sizeof v->broken, "%s", what);
}

static void mix(struct invariants *v, uint64_t value)
{
    v->hash = (v->hash ^ value) * 0x100000001B3u; /* as FNV-1a does with bytes */
    v->hash ^= v->hash >> 29;
}

static void check_note(struct invariants *v, const struct us_action *a)
{
    bool on = a->kind == US_ACTION_NOTE_ON;
    if (a->pitch >= US_PITCHES) {
        broke(v, "a pitch out of range", a);
        return;
    }
    if (on && (a->velocity < 1 || a->velocity > 127)) broke(v, "a velocity out of range", a);
    if (v->down[a->voice][a->pitch] == on) broke(v, on ? "a note struck twice" : "a note released twice", a);
    v->down[a->voice][a->pitch] = on;
    v->sounding[a->voice] += on ? 1 : -1;
    v->note_ons += on;
}

static void check_action(struct invariants *v, const struct us_action *a)
{
    if (a->at_ns < v->last_ns) broke(v, "time runs back", a);
    v->last_ns = a->at_ns;
    if (a->voice >= US_VOICES) {
        broke(v, "no such voice", a);
        return;
    }
    switch (a->kind) {
    case US_ACTION_NOTE_ON:
    case US_ACTION_NOTE_OFF: check_note(v, a); break;
    case US_ACTION_PEDAL:
        if (a->velocity > 127) broke(v, "a pedal out of range", a);
        break;
    case US_ACTION_CHORD:
        if (a->chord.root < 0 || a->chord.root > 11 || a->chord.kind >= US_CHORD_KINDS)
            broke(v, "no chord", a);
        break;
    case US_ACTION_KEY:
        if (a->key.tonic < US_NO_KEY || a->key.tonic > 11 || a->key.mode >= US_MODES) broke(v, "no key", a);
        break;
    case US_ACTION_METRE:
        if (a->metre.top < 1 || a->metre.bottom < 1) broke(v, "no metre", a);
        break;
    default:
        if (a->kind >= US_ACTION_KINDS) broke(v, "no such action", a);
    }
}

void invariants_step(struct invariants *v, const struct us_actions *actions)
{
    if (actions->count > US_ACTIONS_MAX) broke(v, "more actions than a step may give", NULL);
    for (uint32_t i = 0; i < actions->count && i < US_ACTIONS_MAX; i++) {
        const struct us_action *a = &actions->list[i];
        check_action(v, a);
        mix(v, (uint64_t)a->at_ns);
        mix(v, (uint64_t)a->kind << 24 | (uint64_t)a->voice << 16 | (uint64_t)a->pitch << 8 | a->velocity);
        mix(v, (uint64_t)(uint8_t)a->chord.root << 24 | (uint64_t)a->chord.kind << 16 |
                   (uint64_t)(uint8_t)a->key.tonic << 8 | a->key.mode);
        mix(v, (uint64_t)a->metre.top << 16 | (uint64_t)a->metre.bottom << 8 | a->bar);
        mix(v, (uint64_t)a->value);
    }
    if (v->sounding[US_VOICE_LEFT] > LEFT_MAX) broke(v, "more notes in the left hand than fingers", NULL);
    if (!v->round && v->sounding[US_VOICE_SECOND] > SECOND_MAX) broke(v, "more than a second voice", NULL);
}

void invariants_silent(struct invariants *v)
{
    for (int voice = 0; voice < US_VOICES; voice++)
        if (v->sounding[voice]) broke(v, "a note that never ends", NULL);
}

void watched_settings(struct watched *w)
{
    struct us_snapshot now;
    us_companion_snapshot(w->companion, &now);
    w->promises.round = now.second_voice == US_SECOND_ROUND;
}

void watched_send(struct watched *w, struct us_event event)
{
    struct us_actions actions;
    us_companion_step(w->companion, &event, &actions);
    if (event.kind == US_EVENT_CONTROL) watched_settings(w);
    invariants_step(&w->promises, &actions);
    if (event.at_ns > w->now_ns) w->now_ns = event.at_ns;
}

void watched_wait(struct watched *w, int64_t until_ns)
{
    for (int ticks = 0; us_companion_due(w->companion) < until_ns; ticks++) {
        int64_t due = us_companion_due(w->companion);
        if (due < w->now_ns) due = w->now_ns;
        watched_send(w, (struct us_event){.at_ns = due, .kind = US_EVENT_TICK});
        w->ticks++;
        if (ticks > TICKS_MAX) {
            broke(&w->promises, "ticks are asked for without an end", NULL);
            return;
        }
    }
    if (until_ns > w->now_ns) w->now_ns = until_ns;
}
