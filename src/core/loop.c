#include "undersong/loop.h"

#include <math.h>
#include <string.h>

static const double WAIT_NS = 5e8;
/* Notes off the way, running, before the player is taken to have left the part; how far in a player may
   begin; all but one in so many notes must be met. */
enum { STRAYS_MOST = 4, LATE_START = 2, CLEAN_ENOUGH = 2, MOST_OF = 4 };

void us_loop_init(struct us_loop *l, const struct us_loop_part *part)
{
    memset(l, 0, sizeof *l);
    l->part = *part;
    l->place = -1;
}

enum us_loop_news us_loop_result(const struct us_loop *l)
{
    if (!l->times) return US_LOOP_NOTHING;
    return !l->clean ? US_LOOP_AGAIN : l->clean < CLEAN_ENOUGH ? US_LOOP_CLEAN : US_LOOP_READY;
}

static bool is_right(const struct us_score_follower *f, int pitch)
{
    return us_pitch_class(pitch - f->score->pitch[f->place] - f->transposition) == 0;
}

static bool has_waited(const struct us_loop *l, const struct us_score_follower *f, int64_t at_ns)
{
    if (f->log_quarter_ns <= 0) return false;
    double asked = exp((double)(f->score->log_gap[f->place] + f->log_quarter_ns));
    return (double)(at_ns - l->at_ns) > asked + WAIT_NS;
}

static void begin(struct us_loop *l, uint32_t off)
{
    l->inside = true;
    l->off = off;
    l->met = 1;
    l->waited = l->strays = 0;
}

/* A note farther on in the part: one left out and one played in its place are one slip. */
static void arrive(struct us_loop *l, const struct us_score_follower *f, int64_t at_ns, int pitch)
{
    uint32_t missed = (uint32_t)(f->place - l->place - 1);
    l->off += (l->strays > missed ? l->strays : missed) + !is_right(f, pitch);
    if (!missed && !l->strays && has_waited(l, f, at_ns)) l->waited++;
    l->met++;
    l->strays = 0;
}

static enum us_loop_news finish(struct us_loop *l)
{
    uint32_t notes = (uint32_t)(l->part.last - l->part.first) + 1;
    l->inside = false;
    if (MOST_OF * l->met < (MOST_OF - 1) * notes) return US_LOOP_NOTHING;
    l->times++;
    l->wrong = l->off;
    l->waits = l->waited;
    l->clean = l->wrong || l->waits ? 0 : l->clean + 1;
    return us_loop_result(l);
}

enum us_loop_news us_loop_note(struct us_loop *l, const struct us_score_follower *f, int64_t at_ns, int pitch)
{
    const struct us_loop_part *part = &l->part;
    int place = f->place;
    if (!part->last || place < 0) return US_LOOP_NOTHING;
    bool in = place >= part->first && place <= part->last;
    if (place == part->first || (in && !l->inside && place <= part->first + LATE_START)) {
        begin(l, place == part->first ? !is_right(f, pitch) : 1);
    } else if (l->inside && in && place > l->place) {
        arrive(l, f, at_ns, pitch);
    } else {
        if (++l->strays > STRAYS_MOST) l->inside = false;
        return US_LOOP_NOTHING;
    }
    l->place = (int16_t)place;
    l->at_ns = at_ns;
    return l->inside && place == part->last ? finish(l) : US_LOOP_NOTHING;
}
