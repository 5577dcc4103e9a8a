#include "emit.h"

/* Kept free for note-offs. */
enum { ROOM_FOR_OFFS = 24 };
/* More notes than this a voice does not take: ten fingers and a forearm, and all voices can be released in
   one step. */
enum { VOICE_NOTES_MAX = 48 };
_Static_assert(US_VOICES *(VOICE_NOTES_MAX + 1) + ROOM_FOR_OFFS <= US_ACTIONS_MAX,
               "a panic must fit into a step");

static struct us_action *append(struct us_actions *out, int64_t now_ns, enum us_action_kind kind,
                                enum us_voice voice)
{
    struct us_action *a = &out->list[out->count++];
    *a = (struct us_action){.at_ns = now_ns, .kind = (uint8_t)kind, .voice = (uint8_t)voice};
    a->chord.root = US_NO_CHORD;
    a->key.tonic = US_NO_KEY;
    return a;
}

static void set_down(struct us_sounding *sounding, enum us_voice voice, int pitch, bool down)
{
    uint8_t bit = (uint8_t)(1u << (pitch & 7));
    uint8_t *at = &sounding->down[voice][pitch >> 3];
    *at = (uint8_t)(down ? *at | bit : *at & ~bit);
    sounding->count[voice] = (uint8_t)(sounding->count[voice] + (down ? 1 : -1));
}

bool us_sounds(const struct us_sounding *sounding, enum us_voice voice, int pitch)
{
    return pitch >= 0 && pitch < US_PITCHES && (sounding->down[voice][pitch >> 3] >> (pitch & 7) & 1);
}

void us_emit_off(struct us_actions *out, struct us_sounding *sounding, int64_t now_ns, enum us_voice voice,
                 int pitch)
{
    if (!us_sounds(sounding, voice, pitch) || out->count >= US_ACTIONS_MAX) return;
    append(out, now_ns, US_ACTION_NOTE_OFF, voice)->pitch = (uint8_t)pitch;
    set_down(sounding, voice, pitch, false);
}

void us_emit_on(struct us_actions *out, struct us_sounding *sounding, int64_t now_ns, enum us_voice voice,
                int pitch, int velocity)
{
    if (pitch < 0 || pitch >= US_PITCHES) return;
    us_emit_off(out, sounding, now_ns, voice, pitch);
    if (out->count + ROOM_FOR_OFFS >= US_ACTIONS_MAX || sounding->count[voice] >= VOICE_NOTES_MAX) return;
    struct us_action *a = append(out, now_ns, US_ACTION_NOTE_ON, voice);
    a->pitch = (uint8_t)pitch;
    a->velocity = (uint8_t)(velocity < 1 ? 1 : velocity > 127 ? 127 : velocity);
    set_down(sounding, voice, pitch, true);
}

void us_emit_all_off(struct us_actions *out, struct us_sounding *sounding, int64_t now_ns,
                     enum us_voice voice)
{
    for (int pitch = 0; pitch < US_PITCHES; pitch++)
        us_emit_off(out, sounding, now_ns, voice, pitch);
}

struct us_action *us_emit(struct us_actions *out, int64_t now_ns, enum us_action_kind kind,
                          enum us_voice voice)
{
    if (out->count + ROOM_FOR_OFFS >= US_ACTIONS_MAX) return NULL;
    return append(out, now_ns, kind, voice);
}
