#include "undersong/strain.h"

#include <math.h>
#include <string.h>

/* Trust moves between these, in log odds: new material must not make the old forgotten. */
static const float TRUST_LEAST = -2.5f, TRUST_MOST = 3, BELIEVE = 1.5f, DOUBT = -1;
/* Turns of a melody come again a step higher: another key is rarer than where the tune was named. */
static const float NEW_KEY = 0.01f;
/* So sure must the place be, after so many notes one after the other. */
static const float SURE = 0.85f;
enum { RUN = 4, LEAST_NOTES = 8, BACK = 5 };
/* A gap that is longer or shorter is no rhythm. */
static const double GAP_LEAST = 0.1, GAP_MOST = 8, SAME_PLACE = 0.02;

void us_strain_init(struct us_strain *s)
{
    memset(s, 0, sizeof *s);
    us_score_follow(&s->follow, &s->score, TRUST_LEAST);
    s->follow.heard = 1;
    s->follow.new_key = NEW_KEY;
    s->follow.new_key_at_start = 0;
    s->place = -1;
}

void us_strain_hear(struct us_strain *s, const struct us_strain_note *note)
{
    us_strain_work(s);
    s->waits = *note;
    s->is_waiting = true;
}

/* The older half gives way. */
static void make_room(struct us_strain *s)
{
    enum { HALF = US_STRAIN_NOTES / 2 };
    struct us_score *score = &s->score;
    if (score->count < US_STRAIN_NOTES) return;
    memmove(score->pitch, score->pitch + HALF, HALF * sizeof *score->pitch);
    memmove(score->entry, score->entry + HALF, HALF * sizeof *score->entry);
    memmove(score->at, score->at + HALF, HALF * sizeof *score->at);
    memmove(score->log_gap, score->log_gap + HALF, HALF * sizeof *score->log_gap);
    memmove(s->note, s->note + HALF, HALF * sizeof *s->note);
    score->count = HALF;
    us_score_forget_before(&s->follow, HALF);
}

/* A note that was not played before is written down. */
static void write(struct us_strain *s, const struct us_strain_note *n)
{
    make_room(s);
    struct us_score *score = &s->score;
    int i = score->count++;
    double gap = n->place - s->last.place,
           by_clock = n->quarter_ns > 0 ? (double)(n->at_ns - s->last.at_ns) / n->quarter_ns : 1;
    if (gap < GAP_LEAST || gap > GAP_MOST) gap = fmin(GAP_MOST, fmax(GAP_LEAST, by_clock));
    score->pitch[i] = (int8_t)n->pitch;
    score->entry[i] = n->starts || s->apart || i == 0;
    score->at[i] = (float)n->place;
    score->log_gap[i] = i ? (float)log(gap) : 0;
    s->note[i] = *n;
    s->apart = false;
}

/* Looks where the note was played before. */
static void follow(struct us_strain *s, const struct us_strain_note *n)
{
    struct us_score_follower *f = &s->follow;
    int16_t before = f->place;
    int8_t up = f->transposition;
    if (n->quarter_ns > 0) f->log_quarter_ns = (float)log(n->quarter_ns);
    /* Who goes back goes back from here. */
    if (!s->again) f->place = (int16_t)(s->score.count - 1);
    us_score_note(f, n->at_ns, n->pitch);
    f->trust = fminf(TRUST_MOST, fmaxf(TRUST_LEAST, f->trust));
    bool on = f->place == before + 1 && f->transposition == up;
    double off = n->bar_quarters - s->note[f->place].bar_quarters;
    if (off < -SAME_PLACE) off += n->bar;
    s->offs = on && fabs(off - s->off) < SAME_PLACE ? (int16_t)(s->offs + 1) : 1;
    s->off = off;
    if (!on && !s->again) s->agree = 0;
    if (fabs(off) < SAME_PLACE && s->agree < INT16_MAX) s->agree++;
    s->run = on ? (int16_t)(s->run + 1) : 0;
}

/* The notes of the strain that were taken for new ones before it was found again are taken back. */
static void take_back(struct us_strain *s, int count)
{
    if (s->score.count - count <= s->place) return;
    s->score.count = (uint16_t)(s->score.count - count);
    us_score_forget_after(&s->follow, s->score.count);
}

bool us_strain_work(struct us_strain *s)
{
    if (!s->is_waiting) return false;
    struct us_strain_note n = s->waits;
    bool again = false, before = s->again;
    s->is_waiting = false;
    if (s->score.count >= LEAST_NOTES) {
        follow(s, &n);
        s->place = s->follow.place;
        s->up = s->follow.transposition;
        again = s->run >= RUN && s->place + BACK < s->score.count && s->follow.sure > SURE &&
                s->follow.trust > BELIEVE;
        again = again || (before && s->follow.trust >= DOUBT);
        if (again && !before) take_back(s, s->run);
        if (before && !again) s->apart = true;
    }
    if (!again) write(s, &n);
    s->last = n;
    /* At the end of what is written new material begins. */
    s->again = again && s->place + 1 < s->score.count;
    return s->again && s->run >= RUN;
}
