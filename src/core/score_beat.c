#include "score_beat.h"

#include <math.h>

static const double SLOW_QUARTER_NS = 1e9;
static const double SAME_PLACE = 0.02; /* quarters */

/* From where on bars are counted at a place, and in which metre: tunes may change it at a bar line. */
struct counting {
    double from, until; /* quarters from the start of the file; the next change, or infinity */
    double bars;        /* full bars before */
    struct us_metre metre;
};

static struct counting counting_at(const struct us_tune *tune, double place)
{
    struct counting c = {tune->pickup, INFINITY, 0, tune->metre};
    for (size_t i = 1; i < tune->bar_count; i++) {
        const struct us_bar *bar = &tune->bars[i];
        if (!bar->metre.top || us_metre_equal(bar->metre, bar[-1].metre)) continue;
        if (bar->at > place + SAME_PLACE) {
            c.until = bar->at;
            break;
        }
        c.bars += fmax(0, round((bar->at - c.from) / us_metre_bar_quarters(c.metre)));
        c.from = bar->at;
        c.metre = bar->metre;
    }
    return c;
}

static void fill(const struct us_score_beat *b, const struct us_score *score, struct us_felt *out)
{
    struct counting c = counting_at(&score->tune, b->here);
    double bar = us_metre_bar_quarters(c.metre), beat = us_metre_beat_quarters(c.metre);
    double place = b->here - c.from;
    double number = floor((place + SAME_PLACE) / bar);
    double in_bar = fmax(place - number * bar, 0);
    *out = (struct us_felt){.at_ns = b->here_ns,
                            .bar_quarters = in_bar,
                            .bar = (int32_t)(c.bars + number),
                            .metre = c.metre,
                            .quarter_ns = b->quarter_ns,
                            .sure = 1};
    out->on_bar = in_bar < SAME_PLACE;
    out->on_beat = fabs(in_bar / beat - round(in_bar / beat)) * beat < SAME_PLACE;
}

void us_score_beat_onset(struct us_score_beat *b, const struct us_score_follower *f, int64_t at_ns,
                         double quarter_ns, struct us_felt *out)
{
    const struct us_score *s = f->score;
    double before = b->here;
    bool was_running = b->running;
    b->here = s->at[f->place];
    b->here_ns = at_ns;
    b->quarter_ns = f->log_quarter_ns > 0 ? exp((double)f->log_quarter_ns) : quarter_ns;
    /* After one note the tempo is the page's, or a slow one: the run must not be over before it is known. */
    if (b->quarter_ns <= 0)
        b->quarter_ns = s->tune.quarters_a_minute > 0 ? 6e10 / s->tune.quarters_a_minute : SLOW_QUARTER_NS;
    b->end = s->tune.note_count ? s->tune.notes[s->count - 1].at + s->tune.notes[s->count - 1].len : b->here;
    b->until = f->place + 1 < s->count ? (double)s->at[f->place + 1] : b->end;
    b->running = true;
    fill(b, s, out);
    out->on_onset = true;
    out->fresh = !was_running || ((f->place == 0 || (f->loop_last && f->place == f->loop_first)) &&
                                  before > b->here + SAME_PLACE);
    out->already = was_running && fabs(before - b->here) < SAME_PLACE;
}

static double next_beat(const struct us_score_beat *b, const struct us_score *score)
{
    struct counting c = counting_at(&score->tune, b->here);
    double beat = us_metre_beat_quarters(c.metre);
    return fmin((floor((b->here - c.from + SAME_PLACE) / beat) + 1) * beat + c.from, c.until);
}

static int64_t time_of(const struct us_score_beat *b, double place)
{
    return b->here_ns + (int64_t)ceil((place - b->here) * b->quarter_ns);
}

/* The run ends two bars after the last note, or two bars after the next note was due. */
static int64_t end_ns(const struct us_score_beat *b, const struct us_score *score)
{
    return time_of(b, fmax(b->until, b->here) + 2 * us_metre_bar_quarters(score->tune.metre));
}

int64_t us_score_beat_due(const struct us_score_beat *b, const struct us_score *score)
{
    if (!b->running) return INT64_MAX;
    double beat = next_beat(b, score);
    return beat < b->until - SAME_PLACE ? time_of(b, beat) : end_ns(b, score);
}

bool us_score_beat_tick(struct us_score_beat *b, const struct us_score *score, int64_t now_ns,
                        struct us_felt *out)
{
    int64_t due = us_score_beat_due(b, score);
    if (now_ns < due) return false;
    double beat = next_beat(b, score);
    bool ended = beat >= b->until - SAME_PLACE;
    if (ended)
        b->running = false;
    else
        b->here = beat;
    b->here_ns = due;
    fill(b, score, out);
    out->ended = ended;
    return true;
}
