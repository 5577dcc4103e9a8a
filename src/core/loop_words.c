#include "undersong/loop.h"

#include <stdio.h>

char *us_loop_part_name(const struct us_loop_part *part, char *out, size_t size)
{
    if (part->from == part->to)
        snprintf(out, size, "phrase %d", part->from);
    else
        snprintf(out, size, "phrases %d to %d", part->from, part->to);
    return out;
}

char *us_loop_bars(const struct us_loop_part *part, char *out, size_t size)
{
    if (!part->to_bar)
        snprintf(out, size, "the pickup");
    else if (!part->from_bar)
        snprintf(out, size, "pickup to bar %d", part->to_bar);
    else if (part->from_bar == part->to_bar)
        snprintf(out, size, "bar %d", part->from_bar);
    else
        snprintf(out, size, "bars %d to %d", part->from_bar, part->to_bar);
    return out;
}

static void slips(const struct us_loop *loop, char *out, size_t size)
{
    int used = 0;
    if (loop->wrong) used = snprintf(out, size, "%u slip%s", loop->wrong, loop->wrong == 1 ? "" : "s");
    if (loop->waits)
        snprintf(out + used, size - (size_t)used, "%s%u wait%s", used ? " and " : "", loop->waits,
                 loop->waits == 1 ? "" : "s");
}

char *us_loop_result_words(const struct us_loop *loop, char *out, size_t size)
{
    const struct us_loop_part *part = &loop->part;
    char what[60] = "";
    slips(loop, what, sizeof what);
    switch (us_loop_result(loop)) {
    case US_LOOP_AGAIN: snprintf(out, size, "time %u: %s; once more, slowly", loop->times, what); break;
    case US_LOOP_CLEAN: snprintf(out, size, "time %u: clean; once more like that", loop->times); break;
    case US_LOOP_READY:
        if (part->to < part->phrases)
            snprintf(out, size, "time %u: clean again; now phrase %d", loop->times, part->to + 1);
        else
            snprintf(out, size, "time %u: clean again; now the whole tune", loop->times);
        break;
    case US_LOOP_NOTHING: snprintf(out, size, "%s", ""); break;
    }
    return out;
}
