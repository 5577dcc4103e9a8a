#include "repeats.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "undersong/follower.h"
#include "undersong/keyfinder.h"
#include "undersong/straighten.h"

enum { LISTENED = 900 }; /* notes that a tune is looked for in */

static enum us_status take_notes(struct us_tune_file *out, struct us_note *notes, size_t count, double second,
                                 struct us_error *error)
{
    out->notes = notes;
    out->title = calloc(1, 1);
    if (!out->title) return us_error_no_memory(error);
    for (size_t i = 0; i < count; i++) { /* half seconds, as a file of performed time has them */
        notes[i].at *= 2 * second;
        notes[i].len *= 2 * second;
    }
    out->tune = (struct us_tune){.notes = notes,
                                 .note_count = count,
                                 .key = {US_NO_KEY, US_MODE_MAJOR},
                                 .pickup = -1,
                                 .quarters_a_minute = 120,
                                 .title = out->title};
    enum us_status status = us_tune_straighten(out, error);
    if (status) return status;
    if (!us_metre_of_tune(notes, count, &out->tune.metre, &out->tune.pickup)) out->tune.pickup = 0;
    return US_STATUS_OK;
}

/* A tune that may be it, and what it is worth. */
struct candidate {
    struct us_note *notes;
    size_t count;
    double second, worth;
    uint32_t times;
};

static bool make_candidate(const struct repeat_piece *piece, const struct us_session *sessions, size_t count,
                           struct candidate *c)
{
    *c = (struct candidate){.notes = repeats_notes(piece), .count = piece->count};
    bool good = c->notes && repeats_agree(sessions, count, &c->notes, &c->count, &c->second, &c->times);
    if (good && c->times > 1 && c->count > 3) c->worth = repeats_worth(sessions, count, c->notes, c->count);
    if (good && c->worth >= 0) return true;
    free(c->notes);
    return false;
}

/* The last notes of the sessions, at most LISTENED, as sessions of their own; `*from` is the first one. */
static struct us_session *latest(const struct us_session *sessions, size_t count, size_t *from)
{
    struct us_session *heard = calloc(count + 1, sizeof *heard);
    size_t left = LISTENED;
    for (*from = count; heard && *from > 0 && left > 0;) {
        struct us_session *s = &heard[--*from];
        *s = sessions[*from];
        if (s->count > left) s->played += s->count - left, s->count = left;
        left -= s->count;
    }
    return heard;
}

static bool find_best(const struct us_session *heard, size_t count, struct candidate *best)
{
    struct repeat_pieces pieces;
    struct candidate c;
    bool good = repeats_find(heard, count, &pieces);
    for (size_t i = 0; i < pieces.count && good; i++) {
        good = make_candidate(&pieces.list[i], heard, count, &c);
        if (!good) break;
        struct us_note *spare = c.worth > best->worth ? best->notes : c.notes;
        if (c.worth > best->worth) *best = c;
        free(spare);
    }
    return good;
}

enum us_status us_tune_of_repeats(const struct us_session *sessions, size_t count, struct us_tune_file *out,
                                  uint32_t *times, struct us_error *error)
{
    struct candidate best = {0};
    size_t from;
    struct us_session *heard = latest(sessions, count, &from);
    *out = (struct us_tune_file){.number = 1};
    *times = 0;
    bool good = heard && find_best(heard + from, count - from, &best);
    free(heard);
    if (good && best.worth > 0) {
        *times = best.times;
        enum us_status status = take_notes(out, best.notes, best.count, best.second, error);
        if (status) us_tune_file_finish(out);
        return status;
    }
    free(best.notes);
    return good ? US_STATUS_OK : us_error_no_memory(error);
}
