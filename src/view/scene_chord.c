/* The two large panels: the chord that sounds and what else would do, and the step that was played. */
#include "scene_parts.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

/* In parts of the picture's height, so that a title stays as large where the panel is low. */
static const float TITLE = 0.052f, ABOVE_TITLE = 0.006f, TITLE_SIZE = 0.0405f;
static const float FOOT = 0.76f; /* where the last line begins, in parts of the panel */

static void panel(struct stage *s, struct area a, enum us_ink ink, const char *title)
{
    float h = (float)s->scene->height;
    stage_mark(s, US_MARK_BOX, US_INK_PANEL, a)->radius = a.h * 0.04f;
    stage_text(s, (struct area){a.x + a.h * 0.06f, a.y + h * ABOVE_TITLE, a.w - a.h * 0.12f, h * TITLE}, ink,
               US_TEXT_LEFT, true, h * TITLE_SIZE, title);
}

/* A part of what is between title and last line, from `left` on and so wide, in parts of the panel. */
static struct area large(const struct stage *s, struct area a, float left, float wide)
{
    float top = (float)s->scene->height * (ABOVE_TITLE + TITLE);
    return (struct area){a.x + a.w * left, a.y + top, a.w * wide, a.h * FOOT - top};
}

/* Before anything is played: what to do, in the place of what will be shown. */
static void hint(struct stage *s, struct area a, const char *first, const char *second)
{
    float tall = a.h * 0.18f, x = a.x + a.w * 0.04f, wide = a.w * 0.92f;
    stage_text(s, (struct area){x, a.y + a.h * 0.36f, wide, tall}, US_INK_TEXT, US_TEXT_LEFT, false,
               a.h * 0.145f, first);
    stage_text(s, (struct area){x, a.y + a.h * 0.56f, wide, tall}, US_INK_SOFT, US_TEXT_LEFT, false,
               a.h * 0.135f, second);
}

static void alternatives_text(const struct us_snapshot *now, char *out, size_t size)
{
    size_t used = 0;
    *out = 0;
    for (int i = 0; i < now->alternatives && i < 2; i++) {
        char numeral[12], symbol[12];
        int percent = (int)lround(100 * now->alternative_probability[i]);
        if (percent < 5 || now->alternative[i].root == now->chord.root) continue;
        us_chord_numeral(now->alternative[i], now->key, numeral, sizeof numeral);
        us_chord_symbol(now->alternative[i], now->key, symbol, sizeof symbol);
        int wrote = snprintf(out + used, size - used, used ? ", or %s (%s)" : "or %s (%s)", numeral, symbol);
        if (wrote < 0 || (size_t)wrote >= size - used) return;
        used += (size_t)wrote;
    }
}

void scene_chord(struct stage *s, struct area a)
{
    const struct us_snapshot *now = s->now;
    char numeral[12], symbol[12], others[80];
    panel(s, a, US_INK_LEFT, "left hand: chord");
    if (now->chord.root == US_NO_CHORD || now->key.tonic == US_NO_KEY) {
        hint(s, a, "comes in with your tune",
             now->tune_waits ? "with the tune's own chords"
                             : "it finds the key, the bar and the chords by ear");
        return;
    }
    us_chord_numeral(now->chord, now->key, numeral, sizeof numeral);
    us_chord_symbol(now->chord, now->key, symbol, sizeof symbol);
    stage_names(s, large(s, a, 0, 0.52f), US_INK_LEFT, US_TEXT_MIDDLE, true, a.h * 0.48f, numeral);
    stage_names(s, large(s, a, 0.52f, 0.44f), US_INK_TEXT, US_TEXT_MIDDLE, false, a.h * 0.36f, symbol);
    alternatives_text(now, others, sizeof others);
    stage_names(s, (struct area){a.x + a.w * 0.04f, a.y + a.h * FOOT, a.w * 0.92f, a.h * 0.22f}, US_INK_TEXT,
                US_TEXT_LEFT, false, a.h * 0.155f, others);
}

void scene_step(struct stage *s, struct area a)
{
    const struct us_snapshot *now = s->now;
    char step_text[8], below[40], name[8];
    panel(s, a, US_INK_RIGHT, "right hand: step of the scale");
    if (now->melody < 0 || now->key.tonic == US_NO_KEY) {
        const char *first =
            now->tune_waits ? "play this tune, in any key" : "play a tune with your right hand";
        hint(s, a, first, "or the letters Z to M, or click below");
        return;
    }
    struct us_step step = us_key_step(now->key, now->melody);
    const char *sign = step.alter > 0 ? "\xE2\x99\xAF" : step.alter < 0 ? "\xE2\x99\xAD" : "";
    snprintf(step_text, sizeof step_text, "%s%d", sign, step.number);
    us_key_letter(now->key, now->melody, name, sizeof name);
    stage_text(s, large(s, a, 0, 0.40f), US_INK_RIGHT, US_TEXT_MIDDLE, true, a.h * 0.48f, step_text);
    stage_text(s, large(s, a, 0.40f, 0.56f), US_INK_TEXT, US_TEXT_MIDDLE, false, a.h * 0.36f,
               us_key_syllable(now->key, now->melody, s->request->syllables));
    snprintf(below, sizeof below, "note %s", name);
    stage_names(s, (struct area){a.x + a.w * 0.04f, a.y + a.h * FOOT, a.w * 0.92f, a.h * 0.22f}, US_INK_TEXT,
                US_TEXT_LEFT, false, a.h * 0.155f, below);
}
