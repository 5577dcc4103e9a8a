#include "play_phrase.h"

#include <math.h>
#include <stdlib.h>

static const double NEAR = 1e-3;

/* A number from 1 on; `*end` is behind it. */
static long read_number(const char *text, const char **end)
{
    char *after = (char *)text;
    long number = *text >= '0' && *text <= '9' ? strtol(text, &after, 10) : 0;
    *end = after;
    return number;
}

static bool read_part(const char *text, long *from, long *to)
{
    const char *end;
    *from = *to = read_number(text, &end);
    if (*end == '-') *to = read_number(end + 1, &end);
    return !*end && *from >= 1 && *to >= *from;
}

/* Bars as they are printed, or counted where there is no page, from 1; 0 for what comes before the first bar
   line. */
static int32_t bar_at(const struct us_tune *tune, double at)
{
    size_t bar = 0;
    while (bar + 1 < tune->bar_count && tune->bars[bar + 1].at < at + NEAR)
        bar++;
    if (tune->bar_count) return us_tune_bar_number(tune, bar);
    return (int32_t)floor((at - tune->pickup + NEAR) / us_metre_bar_quarters(tune->metre)) + 1;
}

static void find_notes(const struct us_score *score, double at, double end, struct us_loop_part *part)
{
    part->first = score->count;
    part->last = 0;
    for (uint16_t i = 0; i < score->count; i++) {
        if ((double)score->at[i] < at - NEAR || (double)score->at[i] > end - NEAR) continue;
        if (i < part->first) part->first = i;
        part->last = i;
    }
}

enum us_status play_phrase(const char *text, const char *path, const struct known_tune *tune,
                           struct us_loop_part *part, struct us_error *error)
{
    long from, to, count = (long)tune->phrase_count;
    if (!read_part(text, &from, &to))
        return us_error_set(error, US_STATUS_BAD_INPUT,
                            "--phrase %.40s: give one phrase or a part, such as 2 or 2-3", text);
    if (to > count && count == 1)
        return us_error_set(error, US_STATUS_BAD_INPUT, "--phrase %.40s: %.200s is one phrase only; give 1",
                            text, path);
    if (to > count)
        return us_error_set(error, US_STATUS_BAD_INPUT,
                            "--phrase %.40s: %.200s has %ld phrases; give 1 to %ld", text, path, count,
                            count);
    double at = tune->phrases[from - 1].at, end = tune->phrases[to - 1].end;
    find_notes(&tune->score, at, end, part);
    if (part->last <= part->first)
        return us_error_set(error, US_STATUS_BAD_INPUT,
                            "--phrase %.40s: fewer than two notes are there in %.200s; give a longer part",
                            text, path);
    part->from = (uint16_t)from;
    part->to = (uint16_t)to;
    part->phrases = (uint16_t)count;
    part->from_bar = bar_at(&tune->score.tune, at);
    part->to_bar = bar_at(&tune->score.tune, (double)tune->score.at[part->last]);
    return US_STATUS_OK;
}
