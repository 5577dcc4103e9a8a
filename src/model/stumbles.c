#include "stumbles.h"

#include "chance.h"
#include "follow_player.h"

#include <math.h>
#include <stdlib.h>

static const double JITTER_S = 0.018, WANDER = 0.012, HELD = 0.85, HESITATION_S = 2, RIGHT_S = 0.07;

const char *stumble_name(enum stumble stumble)
{
    static const char *const NAMES[STUMBLES] = {"hesitates", "stutters",   "repeats",
                                                "from line", "bar before", "from start"};
    return NAMES[stumble];
}

/* Where the tune is taken up again. */
static size_t note_again(enum stumble stumble, const struct us_note *notes, size_t at, double bar,
                         double pickup)
{
    size_t again = 0;
    double line =
        pickup + bar * (floor((notes[at].at - pickup) / bar + 1e-6) - (stumble == STUMBLE_BAR_BEFORE));
    if (stumble == STUMBLE_FROM_START) return 0;
    while (again < at && notes[again].at < line - 1e-6)
        again++;
    return again;
}

struct playing {
    struct performance *out;
    struct chance chance;
    double clock_s, quarter_s, drift;
};

static void play_on(struct playing *p, const struct us_note *note, double place, double until, double held)
{
    struct performance *out = p->out;
    double when = p->clock_s + JITTER_S * chance_bell(&p->chance);
    out->places[out->place_count++] = (struct played_place){place, p->clock_s, place - note->at};
    out->notes[out->note_count++] = (struct played_note){when, when + held, note->pitch, 76, false};
    p->drift = 0.95 * p->drift + WANDER * chance_bell(&p->chance);
    p->clock_s += until * p->quarter_s * exp(p->drift);
}

static double gap_after(const struct us_note *notes, size_t count, size_t i)
{
    return i + 1 < count ? notes[i + 1].at - notes[i].at : notes[i].len;
}

static void play_note(struct playing *p, const struct us_note *notes, size_t count, size_t i, double moved)
{
    double gap = gap_after(notes, count, i);
    play_on(p, &notes[i], notes[i].at + moved, gap, HELD * fmin(notes[i].len, gap) * p->quarter_s);
}

/* Plays on from note `from`; answers when the first bar line from place `line` on comes, or 0. */
static double play_rest(struct playing *p, const struct us_note *notes, size_t count, size_t from,
                        double moved, double line, double bar, double pickup)
{
    double right_s = 0;
    for (size_t i = from; i < count; i++) {
        double bars = (notes[i].at - pickup) / bar;
        if (!(right_s > 0) && notes[i].at > line - 1e-6 && fabs(bars - round(bars)) < 1e-6)
            right_s = p->clock_s;
        play_note(p, notes, count, i, moved);
    }
    struct performance *out = p->out;
    out->end_quarters = notes[count - 1].at + notes[count - 1].len + moved;
    out->places[out->place_count++] = (struct played_place){out->end_quarters, p->clock_s, moved};
    return right_s;
}

bool player_stumble(enum stumble stumble, const struct us_note *notes, size_t count, double bar,
                    double pickup, double quarters_a_minute, size_t at, uint64_t seed,
                    struct performance *out, double *right_s)
{
    *out = (struct performance){0};
    if (at + 1 >= count) return false;
    out->notes = calloc(2 * count + 2, sizeof *out->notes);
    out->places = calloc(2 * count + 4, sizeof *out->places);
    bool ok = out->notes && out->places;
    struct playing p = {out, {seed}, 1, 60 / quarters_a_minute, 0};
    bool back = stumble >= STUMBLE_FROM_LINE;
    double moved = 0, line = notes[at].at;
    size_t from = at;
    for (size_t i = 0; ok && i < at + back; i++)
        play_note(&p, notes, count, i, 0);
    if (ok && stumble == STUMBLE_HESITATES) p.clock_s += HESITATION_S;
    if (ok && stumble == STUMBLE_STUTTERS) {
        play_on(&p, &notes[at], notes[at].at, 0, 0.1);
        p.clock_s += chance_between(&p.chance, 0.2, 0.35);
        out->place_count--;
        line += 1e-3;
    }
    if (ok && stumble == STUMBLE_REPEATS) {
        double held_s = chance_between(&p.chance, 0.35, 0.8);
        play_on(&p, &notes[at], notes[at].at, 0, held_s);
        p.clock_s += held_s + 0.1;
        out->place_count--;
        line += 1e-3;
    }
    if (ok && back) {
        from = note_again(stumble, notes, at, bar, pickup);
        moved = bar * ceil((notes[at].at + gap_after(notes, count, at) - notes[from].at) / bar - 1e-6);
        p.clock_s += chance_between(&p.chance, 0.3, 1.6);
        line = notes[from].at + bar;
    }
    *right_s = ok ? play_rest(&p, notes, count, from, moved, line, bar, pickup) : 0;
    if (*right_s > 0) return true;
    performance_finish(out);
    return false;
}

struct line_wanted {
    double s;
    bool felt;
};

static void hear_line(void *context, const struct us_felt *felt)
{
    struct line_wanted *wanted = context;
    if (felt->on_bar && !felt->ended && fabs((double)felt->at_ns * 1e-9 - wanted->s) < RIGHT_S)
        wanted->felt = true;
}

void recovery_add(struct recovery *r, enum stumble stumble, const struct us_tune *tune, bool given,
                  double quarters_a_minute, size_t at, uint64_t seed)
{
    struct performance p;
    struct line_wanted wanted = {0};
    struct us_follower_settings settings = {.pickup = -1};
    if (given) settings = follower_told(tune);
    if (!player_stumble(stumble, tune->notes, tune->note_count, us_metre_bar_quarters(tune->metre),
                        tune->pickup, quarters_a_minute, at, seed, &p, &wanted.s))
        return;
    if (follow_performance(&p, &settings, hear_line, &wanted)) {
        r->tried++;
        r->right += wanted.felt;
    }
    performance_finish(&p);
}
