#include "choices.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "beat_name.h"

static const double NEAR = 1e-3;

static bool make_room(struct harmonized *h, size_t more)
{
    struct us_chord_span *grown = realloc(h->fixed, (h->request.fixed_count + more + 1) * sizeof *grown);
    if (!grown) return false;
    h->fixed = grown;
    h->request.fixed = grown;
    return true;
}

enum us_status fix_simplified(struct harmonized *h, struct us_error *error)
{
    const struct us_tune *tune = &h->file.tune;
    if (tune->chord_count == 0)
        return us_error_set(error, US_STATUS_BAD_INPUT,
                            "%s: no chords are written in it; leave out --simplify to have them found",
                            h->path);
    if (!make_room(h, tune->chord_count)) return us_error_no_memory(error);
    for (size_t i = 0; i < tune->chord_count; i++) {
        const struct us_chord_span *span = &tune->chords[i];
        struct us_key key = us_explain_key(&(struct us_explain){.request = &h->request}, span->at);
        enum us_role role = us_chord_role(span->chord, key);
        if (role == US_ROLE_NONE) continue;
        h->fixed[h->request.fixed_count++] =
            (struct us_chord_span){span->at, span->len, us_chord_primary(key, role)};
    }
    return US_STATUS_OK;
}

static int span_order(const void *a, const void *b)
{
    const struct us_chord_span *x = a, *y = b;
    return x->at < y->at ? -1 : x->at > y->at;
}

/* Until where a chord chosen at `at` lasts. */
static double choice_end(const struct harmonized *h, double at)
{
    double bar = us_metre_bar_quarters(h->request.metre);
    double end = h->request.pickup + (floor((at - h->request.pickup) / bar + NEAR) + 1) * bar;
    for (size_t i = 0; i < h->count; i++) {
        double chord_end = h->chords[i].at + h->chords[i].len;
        if (h->chords[i].at < at + NEAR && at + NEAR < chord_end && chord_end < end) end = chord_end;
    }
    return end;
}

/* No two of the fixed spans overlap: a later one cuts the earlier one short. */
static void cut_overlaps(struct harmonized *h)
{
    struct us_chord_span *fixed = h->fixed;
    size_t count = h->request.fixed_count;
    qsort(fixed, count, sizeof *fixed, span_order);
    for (size_t i = 0; i + 1 < count; i++)
        if (fixed[i].at + fixed[i].len > fixed[i + 1].at) fixed[i].len = fixed[i + 1].at - fixed[i].at;
}

static enum us_status parse_choice(const struct harmonized *h, const char *text, struct us_chord_span *span,
                                   struct us_error *error)
{
    char *point;
    long bar = strtol(text, &point, 10);
    const char *after = point;
    double beat = 1;
    bool good = after != text;
    if (good && *after == '.') good = beat_read(after + 1, &after, &beat);
    if (!good || *after != '=' || !after[1])
        return us_error_set(error, US_STATUS_BAD_INPUT,
                            "--choose %.60s: write BAR.BEAT=CHORD, such as 3.1=IV", text);
    double beat_quarters = us_metre_beat_quarters(h->request.metre);
    double bar_quarters = us_metre_bar_quarters(h->request.metre);
    span->at = h->request.pickup + ((double)bar - 1) * bar_quarters + (beat - 1) * beat_quarters;
    /* In the pickup the beats are counted from its own start. */
    if (bar == 0) span->at = (beat - 1) * beat_quarters;
    double end = h->count ? h->chords[h->count - 1].at + h->chords[h->count - 1].len : 0;
    if (bar == 0) end = h->request.pickup;
    if (beat < 1 || (beat - 1) * beat_quarters > bar_quarters - NEAR || span->at < -NEAR ||
        span->at > end - NEAR)
        return us_error_set(
            error, US_STATUS_BAD_INPUT,
            "--choose %.60s: the tune has no such beat; count its bars from 1, the pickup is 0", text);
    struct us_key key = us_explain_key(&h->explain, span->at);
    if (!degree_parse(after + 1, key, &span->chord))
        return us_error_set(error, US_STATUS_BAD_INPUT,
                            "--choose %.60s: no such chord; write I, IV, V, ii, V7 or a letter such as Am",
                            text);
    span->len = choice_end(h, span->at) - span->at;
    return US_STATUS_OK;
}

enum us_status fix_chosen(struct harmonized *h, struct us_error *error)
{
    const struct text_list *choose = &h->settings->choose;
    if (!make_room(h, choose->count)) return us_error_no_memory(error);
    for (size_t i = 0; i < choose->count; i++) {
        struct us_chord_span span;
        enum us_status status = parse_choice(h, choose->items[i], &span, error);
        if (status) return status;
        h->fixed[h->request.fixed_count++] = span;
    }
    cut_overlaps(h);
    return US_STATUS_OK;
}
