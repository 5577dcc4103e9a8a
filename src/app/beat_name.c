#include "beat_name.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static const double NEAR = 0.02;
static const struct {
    double part;
    const char *words, *sign; /* Unicode's vulgar fractions */
} PARTS[] = {
    {0.25, "second quarter", "\xC2\xBC"}, {1 / 3.0, "second third", "\xE2\x85\x93"},
    {0.5, "second half", "\xC2\xBD"},     {2 / 3.0, "last third", "\xE2\x85\x94"},
    {0.75, "last quarter", "\xC2\xBE"},
};
enum { PARTS_COUNT = sizeof PARTS / sizeof *PARTS };

static int part_at(double part)
{
    for (int i = 0; i < PARTS_COUNT; i++)
        if (fabs(part - PARTS[i].part) < NEAR) return i;
    return -1;
}

/* Splits into the beat and what comes after it, 0 to below 1. */
static int whole(double beat, double *part)
{
    double below = floor(beat + NEAR);
    *part = fmax(0, beat - below);
    return (int)below;
}

const char *beat_name(double beat, char out[BEAT_NAME])
{
    double part;
    int count = whole(beat, &part), sign = part_at(part);
    const char *words = sign >= 0     ? PARTS[sign].words
                        : part < 0.25 ? "just after"
                        : part < 0.5  ? "first half"
                        : part < 0.75 ? "second half"
                                      : "at its end";
    snprintf(out, BEAT_NAME, part < NEAR ? "beat %d" : "beat %d, %s", count, words);
    return out;
}

const char *beat_figure(double beat, int width, char out[BEAT_NAME])
{
    double part;
    int count = whole(beat, &part), sign = part_at(part);
    if (sign >= 0)
        snprintf(out, BEAT_NAME, "%*d%s", width - 1, count, PARTS[sign].sign);
    else if (part < NEAR)
        snprintf(out, BEAT_NAME, "%*d", width, count);
    else
        snprintf(out, BEAT_NAME, "%*.2f", width, beat);
    return out;
}

bool beat_read(const char *text, const char **after, double *beat)
{
    char *end;
    *beat = strtod(text, &end);
    *after = end;
    if (end == text) return false;
    for (int i = 0; i < PARTS_COUNT; i++) {
        size_t length = strlen(PARTS[i].sign);
        if (strncmp(end, PARTS[i].sign, length) != 0) continue;
        *beat += PARTS[i].part;
        *after = end + length;
    }
    return true;
}
