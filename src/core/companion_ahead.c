#include "companion_ahead.h"

#include <math.h>

#include "undersong/signs.h"
#include "undersong/transpose.h"

/* How far ahead a known tune is shown, in bars. */
static const double AHEAD_BARS = 4, NEAR = 0.02;

/* A stretch of the tune: notes by number, chords by place, and how it is moved to the page. */
struct stretch {
    int first, end;
    double from, until, shift;
    int up;
};

static void write(const struct us_score *score, const struct stretch *s, struct us_page *page)
{
    const struct us_tune *tune = &score->tune;
    for (int i = s->first; i < s->end && (double)score->at[i] < s->until; i++)
        us_page_note_ahead(page, (double)score->at[i] + s->shift, tune->notes[i].len,
                           score->pitch[i] + s->up);
    for (size_t i = 0; i < tune->chord_count; i++) {
        const struct us_chord_span *span = &tune->chords[i];
        if (span->at <= s->from || span->at >= s->until || span->chord.root == US_NO_CHORD) continue;
        struct us_chord chord = {(int8_t)us_pitch_class(span->chord.root + s->up), span->chord.kind};
        if (page->chords && us_chord_equal(page->chord[page->chords - 1].chord, chord)) continue;
        us_page_chord_ahead(page, span->at + s->shift, chord);
    }
}

/* By how much places on the page lie after those of the tune: by the run or, once it is over, by its last
   note. */
static double page_shift(const struct us_companion *c)
{
    const struct us_score_follower *follower = &c->tune.score;
    return c->run.running ? c->run.at - c->tune.beat.here
                          : (double)(c->page.here - follower->score->at[follower->place]);
}

void us_look_ahead(const struct us_companion *c, struct us_snapshot *out)
{
    const struct us_score_follower *follower = &c->tune.score;
    double here = c->tune.beat.here, bar = us_metre_bar_quarters(follower->score->tune.metre);
    bool in_loop = follower->loop_last && follower->place <= follower->loop_last;
    struct stretch s = {.first = follower->place + 1,
                        .end = in_loop ? follower->loop_last + 1 : follower->score->count,
                        .from = here + NEAR,
                        .until = here + AHEAD_BARS * bar,
                        .shift = page_shift(c),
                        .up = follower->transposition > 6 ? follower->transposition - 12
                                                          : follower->transposition};
    write(follower->score, &s, &out->page);
    us_cut_text(follower->score->tune.title, out->title, sizeof out->title);
}

void us_look_at_beginning(const struct us_companion *c, struct us_snapshot *out)
{
    const struct us_score *score = c->settings.tune;
    if (!score || c->page.notes || c->melody >= 0) return;
    const struct us_tune *tune = &score->tune;
    const struct us_loop_part *part = &c->settings.loop;
    double bar = us_metre_bar_quarters(tune->metre);
    out->tune_waits = true;
    out->tune_key = tune->key;
    out->tune_metre = tune->metre;
    us_cut_text(tune->title, out->title, sizeof out->title);
    struct stretch s = {.first = part->last ? part->first : 0,
                        .end = part->last ? part->last + 1 : score->count};
    double at = (double)score->at[s.first], line = fmax(0, floor((at - tune->pickup) / bar + NEAR)) * bar;
    if (out->drill_asked.tonic != US_NO_KEY && tune->key.tonic != US_NO_KEY) {
        s.up = us_transpose_between(tune->key, out->drill_asked);
        out->tune_key = out->drill_asked;
    }
    s.shift = -tune->pickup - line;
    s.from = at - NEAR;
    s.until = at + (AHEAD_BARS + 1) * bar;
    out->page.line = 0;
    write(score, &s, &out->page);
}
