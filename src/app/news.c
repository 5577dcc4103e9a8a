#include "news.h"

#include <stdio.h>
#include <stdlib.h>

bool is_news(const struct us_action *a)
{
    return a->kind == US_ACTION_ROUND || a->kind == US_ACTION_VERDICT || a->kind == US_ACTION_DRILL ||
           a->kind == US_ACTION_LOOP || a->kind == US_ACTION_TRANSPOSE;
}

static void round_words(int bars, char out[NEWS_SIZE])
{
    if (bars)
        snprintf(out, NEWS_SIZE, "round: the second voice comes %d bar%s after you", bars,
                 bars == 1 ? "" : "s");
    else
        snprintf(out, NEWS_SIZE, "round: this tune makes no round");
}

static void verdict_words(const struct us_snapshot *now, char out[NEWS_SIZE])
{
    char words[96];
    us_verdict_words(&now->verdict, now->key, words, sizeof words);
    if (*words) snprintf(out, NEWS_SIZE, "your left hand: %s", words);
}

static void drill_words(int32_t news, const struct us_snapshot *now, char out[NEWS_SIZE])
{
    static const char *const BEFORE[] = {"", "well done; now", "that was another key; once more",
                                         "round all the keys; again"};
    char asked[24], next[24];
    us_key_name(now->drill_asked, asked, sizeof asked);
    us_key_name(now->drill_next, next, sizeof next);
    snprintf(out, NEWS_SIZE, "%s in %s, then in %s", BEFORE[news], asked, next);
}

static void loop_words(const struct us_loop *loop, char out[NEWS_SIZE])
{
    char name[40], result[100];
    us_loop_part_name(&loop->part, name, sizeof name);
    snprintf(out, NEWS_SIZE, "%s, %s", name, us_loop_result_words(loop, result, sizeof result));
}

const char *news_words(const struct us_action *a, const struct us_snapshot *now, char out[NEWS_SIZE])
{
    *out = 0;
    switch (a->kind) {
    case US_ACTION_ROUND: round_words(a->value, out); break;
    case US_ACTION_VERDICT: verdict_words(now, out); break;
    case US_ACTION_DRILL: drill_words(a->value, now, out); break;
    case US_ACTION_LOOP: loop_words(&now->loop, out); break;
    case US_ACTION_TRANSPOSE:
        snprintf(out, NEWS_SIZE, "your keyboard adds %d half step%s to its own sound", a->value,
                 abs(a->value) == 1 ? "" : "s");
        break;
    default: break;
    }
    return out;
}

static void loop_first_words(const struct us_loop_part *part, char out[NEWS_SIZE])
{
    char name[40], bars[40];
    snprintf(out, NEWS_SIZE, "%s of %d, %s, round and round", us_loop_part_name(part, name, sizeof name),
             part->phrases, us_loop_bars(part, bars, sizeof bars));
}

const char *first_words(const struct us_snapshot *now, char out[NEWS_SIZE])
{
    char name[24];
    *out = 0;
    if (now->matching)
        snprintf(out, NEWS_SIZE, "a note sounds: find the key that sounds the same, and play it twice");
    else if (now->loop.part.last)
        loop_first_words(&now->loop.part, out);
    else if (now->drill_asked.tonic != US_NO_KEY)
        snprintf(out, NEWS_SIZE, "first in %s", us_key_name(now->drill_asked, name, sizeof name));
    else if (now->sound_shift)
        snprintf(out, NEWS_SIZE,
                 "everything sounds %d half step%s %s than you play it; the names here are as you play",
                 abs(now->sound_shift), abs(now->sound_shift) == 1 ? "" : "s",
                 now->sound_shift > 0 ? "higher" : "lower");
    return out;
}
