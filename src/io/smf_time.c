/* From delta times of many tracks to one line of events in time. */
#include <stdlib.h>

#include "smf_parts.h"

bool us_smf_clock_init(struct smf_clock *clock, int division)
{
    *clock = (struct smf_clock){0};
    if (division < 0x8000) {
        clock->ticks_per_quarter = division;
        return division > 0;
    }
    int frames = 0x100 - (division >> 8), resolution = division & 0xFF;
    clock->ticks = (int64_t)resolution * frames;
    clock->seconds = 1;
    if (frames == 29) { /* 30 drop-frame: 30,000 frames in 1,001 s */
        clock->ticks = (int64_t)resolution * 30000;
        clock->seconds = 1001;
    }
    return resolution > 0 && (frames == 24 || frames == 25 || frames == 29 || frames == 30);
}

/* `count` units of numerator/denominator nanoseconds, rounded; false beyond the bound on a file's length. */
static bool to_ns(int64_t count, int64_t numerator, int64_t denominator, int64_t *ns)
{
    const int64_t limit = (int64_t)US_SMF_HOURS_MAX * 3600 * 1000000000;
    int64_t whole = count / denominator, rest = count % denominator;
    if (whole > limit / numerator) return false;
    *ns = whole * numerator + (rest * numerator + denominator / 2) / denominator;
    return *ns <= limit;
}

/* Where the tempo last changed, and what it is since then. */
struct tempo {
    int64_t tick, ns;
    double quarters;
    int64_t quarter_us;
};

static bool at_tick(const struct smf_clock *clock, const struct tempo *tempo, int64_t tick, int64_t *ns,
                    double *quarters)
{
    int64_t span = tick - tempo->tick, length = 0;
    bool fits = clock->ticks_per_quarter
                    ? to_ns(span, tempo->quarter_us * 1000, clock->ticks_per_quarter, &length)
                    : to_ns(span, clock->seconds * 1000000000, clock->ticks, &length);
    *ns = tempo->ns + length;
    *quarters =
        tempo->quarters + (clock->ticks_per_quarter ? (double)span / (double)clock->ticks_per_quarter
                                                    : (double)length / ((double)tempo->quarter_us * 1000.0));
    return fits && *ns <= (int64_t)US_SMF_HOURS_MAX * 3600 * 1000000000;
}

static int by_tick(const void *a, const void *b)
{
    const struct us_smf_event *x = a, *y = b;
    if (x->tick != y->tick) return x->tick < y->tick ? -1 : 1;
    return x->offset < y->offset ? -1 : x->offset > y->offset; /* tracks and events stand in this order */
}

/* The patterns of format 2 follow one another: each starts where the one before it ended. */
static void chain_patterns(struct us_smf *smf)
{
    int64_t start = 0, end = 0;
    for (size_t i = 0; i < smf->count; i++) {
        if (i && smf->events[i].track != smf->events[i - 1].track) start = end;
        end = smf->events[i].tick += start;
    }
}

enum us_status us_smf_give_times(struct us_smf *smf, struct smf_clock clock, const char *name,
                                 struct us_error *error)
{
    if (smf->format == 2)
        chain_patterns(smf);
    else
        qsort(smf->events, smf->count, sizeof *smf->events, by_tick);
    struct tempo tempo = {.quarter_us = 500000};
    for (size_t i = 0; i < smf->count; i++) {
        struct us_smf_event *event = &smf->events[i];
        if (!at_tick(&clock, &tempo, event->tick, &event->at_ns, &event->at_quarters))
            return us_error_set(error, US_STATUS_BAD_INPUT,
                                "%s: byte %u: the music lasts more than %d hours; export the file again",
                                name, event->offset, US_SMF_HOURS_MAX);
        bool pattern = smf->format == 2 && i && event->track != event[-1].track;
        if (pattern || us_smf_is_meta(event, US_SMF_TEMPO))
            tempo = (struct tempo){event->tick, event->at_ns, event->at_quarters, us_smf_tempo_us(event)};
        smf->end_ns = event->at_ns;
        smf->end_quarters = event->at_quarters;
    }
    return US_STATUS_OK;
}
