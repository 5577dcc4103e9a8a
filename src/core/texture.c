#include "undersong/texture.h"

#include "voicing.h"

#include <stdlib.h>
#include <string.h>

static const char *const NAMES[US_TEXTURES] = {
    [US_TEXTURE_BLOCK] = "block",   [US_TEXTURE_FIFTHS] = "fifths", [US_TEXTURE_ROOT_RUN] = "root-run",
    [US_TEXTURE_BROKEN] = "broken", [US_TEXTURE_WALTZ] = "waltz",   [US_TEXTURE_DRONE] = "drone",
    [US_TEXTURE_ROOTS] = "roots",
};

/* Registers: chords around C3 to C4; single roots and open fifths stand on the octave from F2, so that a root
   is always the same key of the keyboard while the melody leaves room. */
enum { CHORD_LOW = 48, CHORD_HIGH = 60, ROOT_LOW = 41, ROOT_HIGH = 52, FIFTH_HIGH = ROOT_HIGH + 7 };

static void keep_only(int8_t tone[TONES], bool third, bool fifth)
{
    if (!third) tone[TONE_THIRD] = NO_TONE;
    if (!fifth) tone[TONE_FIFTH] = NO_TONE;
    tone[TONE_SEVENTH] = NO_TONE;
}

static struct us_chord drone_chord(struct us_chord chord, struct us_key key)
{
    return key.tonic == US_NO_KEY ? chord : (struct us_chord){key.tonic, US_CHORD_MAJ};
}

/* All tones of the chord that may sound now, in a register. */
static struct voicing_request ask(struct us_chord chord, const struct us_voicing_context *context, int low,
                                  int high)
{
    struct voicing_request request = {.low = low, .high = high};
    voicing_tones(chord, request.tone);
    voicing_forbid(chord, context, request.tone);
    return request;
}

/* The one tone that may stand in for a root that would clash. */
static struct us_voicing stand_in(struct us_chord chord, const struct us_voicing_context *context)
{
    struct voicing_request any = ask(chord, context, ROOT_LOW, ROOT_HIGH), third = any;
    keep_only(third.tone, true, false);
    struct us_voicing v = voicing_find(&third, context);
    return v.count ? (struct us_voicing){1, {v.pitch[0]}} : voicing_find(&any, context);
}

static struct us_voicing find_block(struct us_chord chord, const struct us_voicing_context *context)
{
    struct voicing_request request = ask(chord, context, CHORD_LOW, CHORD_HIGH);
    request.close = true;
    return voicing_find(&request, context);
}

static struct us_voicing find_waltz(struct us_chord chord, const struct us_voicing_context *context)
{
    struct voicing_request request = ask(chord, context, ROOT_LOW, CHORD_HIGH);
    request.root_lowest = request.bass_apart = true;
    return voicing_find(&request, context);
}

static struct us_voicing find_open(struct us_chord chord, bool fifth,
                                   const struct us_voicing_context *context)
{
    struct voicing_request request = ask(chord, context, ROOT_LOW, fifth ? FIFTH_HIGH : ROOT_HIGH);
    request.root_lowest = true;
    /* A diminished chord has no open fifth. */
    keep_only(request.tone, false, fifth && chord.kind != US_CHORD_DIM);
    struct us_voicing v = voicing_find(&request, context);
    return v.count ? v : stand_in(chord, context);
}

struct us_voicing us_texture_hand(enum us_texture texture, struct us_chord chord,
                                  const struct us_voicing_context *context)
{
    if (texture == US_TEXTURE_DRONE) chord = drone_chord(chord, context->key);
    if (chord.root == US_NO_CHORD) return (struct us_voicing){0};
    switch (texture) {
    case US_TEXTURE_BLOCK:
    case US_TEXTURE_BROKEN: return find_block(chord, context);
    case US_TEXTURE_WALTZ: return find_waltz(chord, context);
    case US_TEXTURE_FIFTHS:
    case US_TEXTURE_DRONE: return find_open(chord, true, context);
    case US_TEXTURE_ROOT_RUN:
    case US_TEXTURE_ROOTS:
    default: return find_open(chord, false, context);
    }
}

struct us_voicing us_texture_strike(enum us_texture texture, struct us_chord chord,
                                    const struct us_voicing_context *context)
{
    struct us_voicing hand = us_texture_hand(texture, chord, context);
    bool one_at_a_time = texture == US_TEXTURE_BROKEN || texture == US_TEXTURE_WALTZ;
    if (one_at_a_time && hand.count > 1) hand = (struct us_voicing){1, {hand.pitch[0]}};
    return hand;
}

static bool clashes(int pitch, int melody)
{
    return melody >= 0 && abs(melody - pitch) % 12 == 1;
}

struct us_voicing us_texture_fit(struct us_voicing voicing, int melody)
{
    struct us_voicing fit = {0};
    for (int i = 0; i < voicing.count; i++)
        if (melody < 0 || (voicing.pitch[i] < melody && !clashes(voicing.pitch[i], melody)))
            fit.pitch[fit.count++] = voicing.pitch[i];
    return fit;
}

bool us_texture_parse(const char *name, enum us_texture *texture)
{
    for (int i = 0; i < US_TEXTURES; i++)
        if (strcmp(name, NAMES[i]) == 0) {
            *texture = (enum us_texture)i;
            return true;
        }
    return false;
}
