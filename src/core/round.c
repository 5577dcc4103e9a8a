#include "undersong/round.h"

#include <math.h>
#include <string.h>

static const double SHORTEST_QUARTERS = 0.05, GONE_BACK_QUARTERS = 0.4;

static struct us_round_note *note_at(struct us_round *r, uint32_t i)
{
    return &r->note[(r->first + i) % US_ROUND_NOTES_MAX];
}

static const struct us_round_note *const_note_at(const struct us_round *r, uint32_t i)
{
    return &r->note[(r->first + i) % US_ROUND_NOTES_MAX];
}

void us_round_init(struct us_round *r)
{
    memset(r, 0, sizeof *r);
    r->delay_quarters = -1;
    r->position_quarters = -INFINITY;
}

static double begin_of(const struct us_round *r, const struct us_round_note *n)
{
    return n->at + r->delay_quarters;
}

static double end_of(const struct us_round *r, const struct us_round_note *n)
{
    return n->len < 0 ? INFINITY : n->at + n->len + r->delay_quarters;
}

void us_round_set_delay(struct us_round *r, double delay_quarters)
{
    r->delay_quarters = delay_quarters;
    r->next = 0;
    while (r->next < r->count && begin_of(r, note_at(r, r->next)) < r->position_quarters - US_ROUND_NEAR)
        r->next++;
}

static void drop_oldest(struct us_round *r)
{
    r->first = (r->first + 1) % US_ROUND_NOTES_MAX;
    r->count--;
    if (r->next) r->next--;
}

/* The player has gone back and plays a place again: what was played there before is not answered. */
static void take_back(struct us_round *r, double at_quarters)
{
    if (!r->count || note_at(r, r->count - 1)->at < at_quarters + GONE_BACK_QUARTERS) return;
    while (r->count > r->next && note_at(r, r->count - 1)->at > at_quarters - US_ROUND_NEAR &&
           !note_at(r, r->count - 1)->sounding)
        r->count--;
}

void us_round_note_on(struct us_round *r, double at_quarters, int pitch, int velocity)
{
    /* A sounding answer is never forgotten: its end must come. */
    if (r->count == US_ROUND_NOTES_MAX && note_at(r, 0)->sounding) return;
    if (r->count == US_ROUND_NOTES_MAX) drop_oldest(r);
    take_back(r, at_quarters);
    if (r->count && note_at(r, r->count - 1)->at > at_quarters)
        at_quarters = note_at(r, r->count - 1)->at; /* the beat was corrected backwards: keep the order */
    us_round_note_off(r, at_quarters, pitch);
    *note_at(r, r->count++) =
        (struct us_round_note){at_quarters, -1, (uint8_t)pitch, (uint8_t)velocity, false};
}

/* The note of a key that is down, or NULL. */
static struct us_round_note *held_note(struct us_round *r, int pitch)
{
    for (uint32_t i = r->count; i-- > 0;) {
        struct us_round_note *n = note_at(r, i);
        if (n->pitch == pitch && n->len < 0) return n;
    }
    return NULL;
}

void us_round_note_off(struct us_round *r, double at_quarters, int pitch)
{
    struct us_round_note *n = held_note(r, pitch);
    if (n) n->len = fmax(at_quarters - n->at, SHORTEST_QUARTERS);
}

void us_round_take_back(struct us_round *r, int pitch)
{
    struct us_round_note *n = held_note(r, pitch);
    if (n) n->len = 0;
}

static struct us_round_answer answer(struct us_round_note *n, bool on)
{
    n->sounding = on;
    return (struct us_round_answer){on, n->pitch, n->velocity};
}

static size_t end_due(struct us_round *r, double to, struct us_round_answer *out, size_t capacity)
{
    size_t written = 0;
    for (uint32_t i = 0; i < r->count && written < capacity; i++) {
        struct us_round_note *n = note_at(r, i);
        if (n->sounding && end_of(r, n) <= to + US_ROUND_NEAR) out[written++] = answer(n, false);
    }
    return written;
}

size_t us_round_advance(struct us_round *r, double to_quarters, struct us_round_answer *out, size_t capacity)
{
    if (to_quarters > r->position_quarters) r->position_quarters = to_quarters;
    if (r->delay_quarters < 0) return 0;
    double to = r->position_quarters;
    size_t written = end_due(r, to, out, capacity);
    while (written < capacity && r->next < r->count) {
        struct us_round_note *n = note_at(r, r->next);
        if (begin_of(r, n) > to + US_ROUND_NEAR) break;
        r->next++;
        if (!n->sounding && end_of(r, n) > to + US_ROUND_NEAR) out[written++] = answer(n, true);
    }
    return written;
}

double us_round_due(const struct us_round *r)
{
    double due = INFINITY;
    if (r->delay_quarters < 0) return due;
    for (uint32_t i = 0; i < r->count; i++) {
        const struct us_round_note *n = const_note_at(r, i);
        if (n->sounding) due = fmin(due, end_of(r, n));
    }
    if (r->next < r->count) due = fmin(due, begin_of(r, const_note_at(r, r->next)));
    return due;
}

size_t us_round_hush(struct us_round *r, struct us_round_answer *out, size_t capacity)
{
    size_t written = 0;
    for (uint32_t i = 0; i < r->count && written < capacity; i++)
        if (note_at(r, i)->sounding) out[written++] = answer(note_at(r, i), false);
    return written;
}

size_t us_round_clear(struct us_round *r, struct us_round_answer *out, size_t capacity)
{
    size_t written = us_round_hush(r, out, capacity);
    if (written && written == capacity) return written;
    r->first = r->count = r->next = 0;
    r->position_quarters = -INFINITY;
    return written;
}
