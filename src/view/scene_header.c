/* The top of the stand: the key, the bar and its beats, and what the companion is doing. */
#include "scene_parts.h"

#include <math.h>
#include <stdio.h>

static void key_text(const struct us_snapshot *now, char *out, size_t size)
{
    char name[24];
    if (now->key.tonic == US_NO_KEY)
        snprintf(out, size, "Play a tune");
    else
        snprintf(out, size, "%s%s", us_key_name(now->key, name, sizeof name),
                 now->key_locked ? " (held)" : "");
}

static const char *doing(const struct us_snapshot *now)
{
    if (!now->left_hand_on) return "left hand off";
    if (now->waiting) return "waiting for you";
    if (now->knows_tune || now->tune_waits) return now->title;
    return "";
}

/* The count, as a teacher says it aloud; the beat that is felt now is large, bold and underlined. */
static void beats(struct stage *s, struct area a)
{
    const struct us_snapshot *now = s->now;
    if (!now->metre.top) return;
    int count = us_metre_beats(now->metre);
    int here = (int)floor(now->bar_quarters / us_metre_beat_quarters(now->metre) + 0.01);
    if (count < 1 || count > 12) return;
    float gap = fminf(a.w / (float)count, a.h * 1.1f), low = a.y + a.h * 0.96f;
    for (int i = 0; i < count; i++) {
        char number[12];
        struct area beat = {a.x + gap * (float)i, a.y, gap * 0.94f, a.h};
        bool now_here = i == here && now->melody >= 0;
        snprintf(number, sizeof number, "%d", i + 1);
        stage_text(s, beat, now_here ? US_INK_TEXT : US_INK_SOFT, US_TEXT_MIDDLE, now_here,
                   a.h * (now_here ? 0.72f : 0.5f), number);
        if (now_here)
            stage_line(s, beat.x + gap * 0.17f, low, beat.x + gap * 0.77f, low, US_INK_TEXT, a.h * 0.08f);
    }
}

void scene_header(struct stage *s, struct area a)
{
    const struct us_snapshot *now = s->now;
    char text[64], metre[8];
    float third = a.w / 3, size = a.h * 0.48f;
    key_text(now, text, sizeof text);
    stage_names(s, (struct area){a.x, a.y, third * 0.95f, a.h}, US_INK_TEXT, US_TEXT_LEFT, true, size, text);
    if (now->metre.top) {
        us_metre_name(now->metre, metre, sizeof metre);
        if (now->bar < 0)
            snprintf(text, sizeof text, "pickup, %s", metre);
        else
            snprintf(text, sizeof text, "bar %d, %s", now->bar + 1, metre);
        stage_text(s, (struct area){a.x + third, a.y, third * 0.55f, a.h}, US_INK_TEXT, US_TEXT_MIDDLE, false,
                   a.h * 0.40f, text);
        beats(s, (struct area){a.x + third * 1.6f, a.y + a.h * 0.1f, third * 0.45f, a.h * 0.8f});
    }
    stage_text(s, (struct area){a.x + 2.05f * third, a.y, third * 0.95f, a.h}, US_INK_SOFT, US_TEXT_RIGHT,
               false, a.h * 0.40f, doing(now));
}
