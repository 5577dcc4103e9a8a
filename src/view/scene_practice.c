/* What is being practised - a phrase round and round, a tune round the keys, a left hand of one's own, a
   round -, and how the last time went. */
#include "scene_parts.h"

#include <stdio.h>
#include <stdlib.h>

enum { WORDS = 120 };

static void drill_words(const struct us_snapshot *now, char *out)
{
    char asked[24], next[24];
    snprintf(out, WORDS, "the tune in %s, then in %s", us_key_name(now->drill_asked, asked, sizeof asked),
             us_key_name(now->drill_next, next, sizeof next));
}

static void loop_words(const struct us_loop_part *part, char *out)
{
    char name[40], bars[40];
    snprintf(out, WORDS, "%s: %s", us_loop_part_name(part, name, sizeof name),
             us_loop_bars(part, bars, sizeof bars));
}

static bool has_round(const struct us_snapshot *now)
{
    return now->second_voice == US_SECOND_ROUND || now->round_bars ||
           now->round_state == US_ROUND_FITS_NOWHERE;
}

static void round_words(const struct us_snapshot *now, char *out)
{
    if (now->round_state == US_ROUND_FITS_NOWHERE)
        snprintf(out, WORDS, "this tune makes no round");
    else if (!now->round_bars)
        snprintf(out, WORDS, "a round: the second voice listens for where to come in");
    else
        snprintf(out, WORDS, "a round: the second voice comes %d bar%s after you", now->round_bars,
                 now->round_bars == 1 ? "" : "s");
}

static void shift_words(const struct us_snapshot *now, char *out)
{
    int by = abs(now->sound_shift);
    snprintf(out, WORDS, "you hear it %d half step%s %s than you play", by, by == 1 ? "" : "s",
             now->sound_shift > 0 ? "higher" : "lower");
}

/* What is asked for, as long as it is. */
static void task(const struct us_snapshot *now, char *out)
{
    *out = 0;
    if (now->loop.part.last)
        loop_words(&now->loop.part, out);
    else if (now->drill_asked.tonic != US_NO_KEY)
        drill_words(now, out);
    else if (has_round(now))
        round_words(now, out);
    else if (now->share_level < 100)
        snprintf(out, WORDS, "the left hand is shared with you");
    else if (now->sound_shift)
        shift_words(now, out);
}

/* How it went last. */
static void result(const struct us_snapshot *now, char *out)
{
    static const char *const DRILL[] = {"", "well done", "that was another key: once more",
                                        "well done, all the keys"};
    char words[96];
    *out = 0;
    if (now->loop.part.last && now->loop.times)
        us_loop_result_words(&now->loop, out, WORDS);
    else if (now->drill_news != US_DRILL_NOTHING)
        snprintf(out, WORDS, "%s", DRILL[now->drill_news]);
    else if (now->share_level < 100 && now->verdict.fit != US_FIT_SILENT)
        snprintf(out, WORDS, "your left hand: %s",
                 us_verdict_words(&now->verdict, now->key, words, sizeof words));
}

bool scene_has_practice(const struct us_snapshot *now)
{
    char words[WORDS];
    task(now, words);
    return *words != 0;
}

void scene_practice(struct stage *s, struct area a)
{
    char left[WORDS], right[WORDS];
    float size = a.h * 0.68f, share = 0.44f;
    task(s->now, left);
    result(s->now, right);
    if (!*right) share = 1;
    struct area line = {a.x, a.y, a.w * share, a.h * 0.88f};
    stage_names(s, line, US_INK_TEXT, US_TEXT_LEFT, true, size, left);
    line = (struct area){a.x + a.w * (share + 0.02f), a.y, a.w * (0.98f - share), a.h * 0.88f};
    if (*right) stage_names(s, line, US_INK_TEXT, US_TEXT_RIGHT, false, size, right);
}
