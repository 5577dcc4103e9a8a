#include "undersong/second_voice.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { LISTEN_BARS = 16, LEAST_BARS = 8 };
static const double STILL_FITS = 0.75, GRIP_QUARTERS = 0.08;

void us_second_init(struct us_second *s, enum us_second_voice kind, int round_bars)
{
    memset(s, 0, sizeof *s);
    s->kind = kind;
    s->round_bars = round_bars;
    s->melody = s->below = -1;
    s->bar = INT32_MIN;
    us_round_init(&s->round);
    if (round_bars) {
        s->state = US_ROUND_ENTERS;
        s->entry_bars = round_bars;
    }
}

static size_t end_duet(struct us_second *s, struct us_round_answer *out, size_t capacity)
{
    if (s->below < 0 || !capacity) return 0;
    out[0] = (struct us_round_answer){false, (uint8_t)s->below, 0};
    s->melody = s->below = -1;
    return 1;
}

static size_t begin_duet(struct us_second *s, const struct us_second_moment *m, int pitch, int velocity,
                         struct us_round_answer *out, size_t capacity)
{
    bool grip = s->below >= 0 && fabs(m->at_quarters - s->melody_at) < GRIP_QUARTERS;
    if (grip && pitch < s->melody) return 0; /* the lower key of a two-note grip */
    size_t written = end_duet(s, out, capacity);
    int below = us_duet_below(s->kind, pitch, m->key, m->chord, m->strong);
    if (below < 0 || written == capacity) return written;
    s->melody = (int16_t)pitch;
    s->melody_at = m->at_quarters;
    s->below = (int16_t)below;
    out[written] = (struct us_round_answer){true, (uint8_t)below, (uint8_t)velocity};
    return written + 1;
}

size_t us_second_note_on(struct us_second *s, const struct us_second_moment *moment, int pitch, int velocity,
                         struct us_round_answer *out, size_t capacity)
{
    if (s->kind == US_SECOND_NONE) return 0;
    if (s->kind != US_SECOND_ROUND) return begin_duet(s, moment, pitch, velocity, out, capacity);
    us_round_note_on(&s->round, moment->at_quarters, pitch, velocity);
    return us_second_advance(s, moment->at_quarters, moment->bar_quarters, out, capacity);
}

size_t us_second_note_off(struct us_second *s, const struct us_second_moment *moment, int pitch,
                          struct us_round_answer *out, size_t capacity)
{
    if (s->kind == US_SECOND_ROUND) {
        us_round_note_off(&s->round, moment->at_quarters, pitch);
        return us_second_advance(s, moment->at_quarters, moment->bar_quarters, out, capacity);
    }
    return pitch == s->melody ? end_duet(s, out, capacity) : 0;
}

void us_second_take_back(struct us_second *s, int pitch)
{
    if (s->kind == US_SECOND_ROUND) us_round_take_back(&s->round, pitch);
}

static void look_for_entry(struct us_second *s, int32_t bar, double bar_quarters)
{
    int entry = us_round_heard_entry(&s->round, bar_quarters, &s->fit);
    bool again = entry && entry == s->candidate;
    s->candidate = entry;
    if (again && bar % entry == 0) {
        s->entry_bars = entry;
        s->state = US_ROUND_ENTERS;
        s->by_ear = true;
    } else if (!entry && bar - s->first_bar >= LISTEN_BARS) {
        s->state = US_ROUND_FITS_NOWHERE;
    }
}

/* At a new bar line: looks for the entry, and enters where a phrase of its length begins; gives an entry
   found by ear up when the tune turns out otherwise. */
static void consider(struct us_second *s, double at_quarters, double bar_quarters)
{
    int32_t bar = (int32_t)floor(at_quarters / bar_quarters + 1e-4);
    if (bar <= s->bar) return;
    if (s->bar == INT32_MIN) s->first_bar = bar > 0 ? bar : 0;
    s->bar = bar;
    if (s->state == US_ROUND_LISTENS) {
        look_for_entry(s, bar, bar_quarters);
    } else if (s->by_ear && bar - s->first_bar >= 2 * s->entry_bars + 2) {
        s->fit = us_round_heard_fit(&s->round, bar_quarters, s->entry_bars);
        if (s->fit >= STILL_FITS) return;
        s->by_ear = false;
        s->state = US_ROUND_LISTENS;
        s->candidate = s->entry_bars = 0;
    }
}

size_t us_second_advance(struct us_second *s, double at_quarters, double bar_quarters,
                         struct us_round_answer *out, size_t capacity)
{
    if (s->kind != US_SECOND_ROUND || bar_quarters <= 0) return 0;
    consider(s, at_quarters, bar_quarters);
    double delay = s->state == US_ROUND_ENTERS ? s->entry_bars * bar_quarters : -1;
    size_t written = 0;
    if (s->round.delay_quarters != delay) {
        written = us_round_hush(&s->round, out, capacity);
        if (written == capacity) return written;
        s->round.position_quarters = fmax(s->round.position_quarters, at_quarters);
        us_round_set_delay(&s->round, delay);
    }
    return written + us_round_advance(&s->round, at_quarters, out + written, capacity - written);
}

double us_second_due(const struct us_second *s)
{
    return s->kind == US_SECOND_ROUND ? us_round_due(&s->round) - US_ROUND_NEAR : INFINITY;
}

int us_second_lowest(const struct us_second *s)
{
    if (s->kind != US_SECOND_ROUND) return s->below;
    int lowest = -1;
    for (uint32_t i = 0; i < s->round.count; i++) {
        const struct us_round_note *n = &s->round.note[(s->round.first + i) % US_ROUND_NOTES_MAX];
        if (n->sounding && (lowest < 0 || n->pitch < lowest)) lowest = n->pitch;
    }
    return lowest;
}

void us_second_run_over(struct us_second *s)
{
    bool looked = s->kind == US_SECOND_ROUND && s->state == US_ROUND_LISTENS;
    if (looked && s->bar + 1 - s->first_bar >= LEAST_BARS) s->state = US_ROUND_FITS_NOWHERE;
}

size_t us_second_silence(struct us_second *s, bool anew, struct us_round_answer *out, size_t capacity)
{
    size_t written = end_duet(s, out, capacity);
    if (!anew) return written + us_round_hush(&s->round, out + written, capacity - written);
    written += us_round_clear(&s->round, out + written, capacity - written);
    s->bar = INT32_MIN;
    s->first_bar = 0;
    if (s->state == US_ROUND_FITS_NOWHERE && !s->known) s->state = US_ROUND_LISTENS;
    return written;
}

void us_second_know_tune(struct us_second *s, const struct us_round_note *notes, size_t count,
                         double bar_quarters)
{
    if (s->kind != US_SECOND_ROUND || s->round_bars) return;
    s->entry_bars = us_round_entry(notes, count, bar_quarters, &s->fit);
    s->state = s->entry_bars ? US_ROUND_ENTERS : US_ROUND_FITS_NOWHERE;
    s->by_ear = false;
    s->known = true;
}

void us_second_forget_tune(struct us_second *s)
{
    if (!s->known) return;
    s->known = false;
    s->state = US_ROUND_LISTENS;
    s->candidate = s->entry_bars = 0;
}

bool us_second_parse(const char *text, enum us_second_voice *kind, int *round_bars)
{
    static const char *const NAMES[] = {"none", "third", "sixth"};
    *round_bars = 0;
    for (int i = 0; i < 3; i++)
        if (strcmp(text, NAMES[i]) == 0) {
            *kind = (enum us_second_voice)i;
            return true;
        }
    if (strncmp(text, "round:", 6) != 0) return false;
    *kind = US_SECOND_ROUND;
    text += 6;
    if (strcmp(text, "auto") == 0) return true;
    char *end;
    long bars = *text >= '0' && *text <= '9' ? strtol(text, &end, 10) : 0;
    if (bars < 1 || bars > US_ROUND_BARS_MAX || *end) return false;
    *round_bars = (int)bars;
    return true;
}
