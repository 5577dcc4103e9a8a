#include "players.h"

#include "chance.h"

#include <math.h>
#include <stdlib.h>

const char *player_name(enum player player)
{
    static const char *const NAMES[PLAYERS] = {"steady",  "learner",      "struggling", "even singing",
                                               "singing", "free singing", "going back", "ornamented"};
    return NAMES[player];
}

/* Habits of the plain players. */
static const struct plain {
    double jitter_s, walk, bound, stops, stop_from_s, stop_to_s, wrong, stutters, held;
} PLAIN[] = {
    {0.012, 0.006, 0.06, 0.000, 0.0, 0.0, 0.000, 0.000, 0.92},
    {0.028, 0.020, 0.18, 0.020, 0.3, 1.2, 0.015, 0.005, 0.80},
    {0.045, 0.035, 0.30, 0.060, 0.4, 2.5, 0.040, 0.020, 0.70},
};

/* Habits of the singing players. */
static const struct singing {
    double jitter_s, arc, lean, last_note, wander, grace, swing, chord, spread_s, stops, accent, goes_back,
        ornaments;
} SINGING[] = {
    {0.008, 0.04, 0.02, 0.15, 0.010, 0.01, 0.04, 0.03, 0.010, 0.000, 6, 0, 0},
    {0.014, 0.09, 0.06, 0.40, 0.020, 0.04, 0.12, 0.06, 0.018, 0.004, 8, 0, 0},
    {0.020, 0.16, 0.12, 0.80, 0.035, 0.08, 0.20, 0.10, 0.028, 0.015, 10, 0, 0},
    {0.016, 0.05, 0.04, 0.20, 0.015, 0.01, 0.00, 0.02, 0.010, 0.004, 6, 0.025, 0},
    {0.016, 0.05, 0.04, 0.20, 0.015, 0.00, 0.00, 0.00, 0.010, 0.002, 6, 0, 0.18},
};

/* So long is a trill at most: as many notes, or one more to end on the main note. */
enum { TRILL_NOTES = 16 };

static int velocity_of(double v)
{
    return (int)fmax(20, fmin(120, v));
}

/* ---- building a performance ---- */

static void place(struct performance *p, double quarters, double s, double again)
{
    p->places[p->place_count++] = (struct played_place){quarters, s, again};
}

static void sound(struct performance *p, double on_s, double held_s, int pitch, int velocity)
{
    p->notes[p->note_count++] = (struct played_note){.on_s = fmax(0, on_s),
                                                     .off_s = fmax(0, on_s) + held_s,
                                                     .pitch = (int16_t)pitch,
                                                     .velocity = (int16_t)velocity};
}

static void sound_added(struct performance *p, double on_s, double held_s, int pitch, int velocity)
{
    sound(p, on_s, held_s, pitch, velocity);
    p->notes[p->note_count - 1].added = true;
}

static int by_time(const void *a, const void *b)
{
    const struct played_note *x = a, *y = b;
    if (x->on_s != y->on_s) return x->on_s < y->on_s ? -1 : 1;
    return x->pitch - y->pitch;
}

static bool make(struct performance *out, size_t count, size_t notes_each, double end)
{
    *out = (struct performance){0};
    out->notes = calloc(count * notes_each + 1, sizeof *out->notes);
    out->places = calloc(count + (size_t)(end * 4) + 8, sizeof *out->places);
    if (out->notes && out->places) return true;
    performance_finish(out);
    return false;
}

void performance_finish(struct performance *p)
{
    free(p->notes);
    free(p->places);
    *p = (struct performance){0};
}

/* The last known place that is not after this one, and not the last of all. */
static const struct played_place *place_before(const struct performance *p, double quarters)
{
    size_t i = 0, high = p->place_count - 1;
    while (high - i > 1) {
        size_t middle = (i + high) / 2;
        if (p->places[middle].quarters <= quarters)
            i = middle;
        else
            high = middle;
    }
    return &p->places[i];
}

double performance_clock(const struct performance *p, double quarters)
{
    const struct played_place *a = place_before(p, quarters), *b = a + 1;
    return a->s + (quarters - a->quarters) / (b->quarters - a->quarters) * (b->s - a->s);
}

double performance_written(const struct performance *p, double quarters)
{
    return quarters - place_before(p, quarters + 1e-6)->again;
}

/* ---- plain players ---- */

static void play_plain(const struct plain *h, const struct us_note *notes, size_t count, double quarter_s,
                       struct chance *c, struct performance *out)
{
    double drift = 0, at = 0, clock = 1.0, end = notes[count - 1].at + notes[count - 1].len;
    int last_pitch = -1;
    size_t i = 0;
    for (double grid = 0; grid <= end + 0.25;) {
        double point = i < count && notes[i].at < grid ? notes[i].at : grid;
        drift = fmax(-h->bound, fmin(h->bound, drift + chance_bell(c) * h->walk * (point - at)));
        clock += (point - at) * quarter_s * exp(drift);
        at = point;
        bool here = i < count && notes[i].at <= point + 1e-6;
        if (here && last_pitch >= 0) {
            bool hard = abs(notes[i].pitch - last_pitch) >= 5 || chance_uniform(c) < 0.3;
            if (hard && chance_uniform(c) < 2 * h->stops)
                clock += chance_between(c, h->stop_from_s, h->stop_to_s);
        }
        for (; i < count && notes[i].at <= point + 1e-6; i++) {
            double when = clock + chance_bell(c) * h->jitter_s,
                   held = fmax(0.06, notes[i].len * quarter_s * h->held);
            int velocity = velocity_of(74 + 9 * chance_bell(c)), pitch = notes[i].pitch;
            if (chance_uniform(c) < h->wrong) {
                static const int BESIDE[] = {-2, -1, 1, 2};
                pitch += BESIDE[(int)(chance_uniform(c) * 4)];
            } else if (chance_uniform(c) < h->stutters) {
                sound(out, when, 0.1, pitch, velocity);
                clock += 0.25;
                when = clock;
            }
            sound(out, when, held, pitch, velocity);
            last_pitch = notes[i].pitch;
        }
        place(out, point, clock, 0);
        if (point >= grid - 1e-9) grid += 0.25;
    }
}

/* ---- singing players ---- */

/* Before a note: how long the player stops, and how many quarters were played twice so far. */
struct going {
    double stop_s, again;
};

/* Slower at both ends of a phrase, faster in its middle; a phrase is four bars or two. */
static double arc_of(const struct singing *h, double bars, double length)
{
    double x = bars / length - floor(bars / length);
    return h->arc * (4 * (x - 0.45) * (x - 0.45) * 1.6 - 0.4);
}

static double tempo_of(const struct singing *h, const struct us_note *note, double bars, double wander)
{
    double slow = arc_of(h, bars, 4) + 0.4 * arc_of(h, bars, 2) + wander;
    if (note->len >= 1.5) slow += h->lean; /* a long note is leaned on */
    if (note->len >= 2 && bars / 4 - floor(bars / 4) > 0.8)
        slow += h->last_note * 0.5; /* breath after a phrase */
    return exp(slow);
}

/* Main note and neighbour in turn, for most of the note's length; the last one is the main note. */
static void trill(double when, double held, int pitch, int beside, int velocity, struct chance *c,
                  struct performance *out)
{
    double each = chance_between(c, 0.065, 0.11), share = chance_between(c, 0.5, 0.95);
    int count = (int)fmin(TRILL_NOTES, held * share / each) | 1;
    for (int i = 0; i < count; i++, when += each, held -= each) {
        sound(out, when, i + 1 < count ? each * 1.05 : held, i % 2 ? beside : pitch, velocity - 8 * (i % 2));
        out->notes[out->note_count - 1].added = i > 0;
        each *= 1 + 0.06 * chance_bell(c);
    }
}

/* Crushed in before the note: one, or two that lead to it. */
static void sing_grace(double when, int pitch, int beside, int velocity, struct chance *c,
                       struct performance *out)
{
    double each = chance_between(c, 0.045, 0.095);
    bool two = chance_uniform(c) < 0.25;
    if (two) sound_added(out, when - 2 * each, each, pitch + 2 * (beside - pitch), velocity - 14);
    sound_added(out, when - each, each * 1.1, beside, velocity - 12);
}

/* The neighbour above, the note, the one below, and on: in the last part of a long note. */
static void sing_turn(double until, int pitch, int above, int below, int velocity, struct chance *c,
                      struct performance *out)
{
    const int pitches[] = {above, pitch, below, pitch};
    double each = chance_between(c, 0.07, 0.11);
    for (int i = 0; i < 4; i++)
        sound_added(out, until - (4 - i) * each, each * 1.05, pitches[i], velocity - 8);
}

/* Which ornament a note gets depends on its length.  True where it took the place of the note. */
static bool ornament(const struct us_note *note, double when, double held, int velocity, struct chance *c,
                     struct performance *out)
{
    int above = note->pitch + (chance_uniform(c) < 0.6 ? 2 : 1),
        below = note->pitch - (chance_uniform(c) < 0.6 ? 1 : 2);
    double kind = chance_uniform(c), each = chance_between(c, 0.055, 0.1);
    if (kind < 0.4 || held < 0.3) {
        sing_grace(when, note->pitch, chance_uniform(c) < 0.6 ? above : below, velocity, c, out);
        return false;
    }
    if (kind < 0.65) {
        sound_added(out, when + each, each * 1.05, kind < 0.52 ? above : below, velocity - 8);
        sound_added(out, when + 2 * each, held - 2 * each, note->pitch, velocity);
        sound(out, when, each, note->pitch, velocity);
        return true;
    }
    if (held < 0.55) return false;
    if (kind < 0.8) {
        sing_turn(when + held, note->pitch, above, below, velocity, c, out);
        sound(out, when, held - 0.4, note->pitch, velocity);
    } else {
        trill(when, held, note->pitch, above, velocity, c, out);
    }
    return true;
}

static void sing_note(const struct singing *h, const struct us_note *note, double when, double held,
                      double strength, struct chance *c, struct performance *out)
{
    int velocity = velocity_of(64 + h->accent * strength + 6 * chance_bell(c));
    if (chance_uniform(c) < h->grace) {
        double before = chance_between(c, 0.05, 0.11);
        sound(out, when - before, before, note->pitch + (chance_uniform(c) < 0.5 ? 2 : -1), velocity - 12);
    }
    if (h->ornaments > 0 && chance_uniform(c) < h->ornaments && ornament(note, when, held, velocity, c, out))
        return;
    sound(out, when, held, note->pitch, velocity);
    if (chance_uniform(c) < h->chord)
        sound(out, when + fabs(chance_bell(c)) * h->spread_s, held,
              note->pitch - (chance_uniform(c) < 0.5 ? 3 : 4), velocity - 10);
}

static void play_singing(const struct singing *h, const struct us_note *notes, const struct going *going,
                         size_t count, double bar, double pickup, double quarter_s, struct chance *c,
                         struct performance *out)
{
    double wander = 0, clock = 0.6, at = 0, end = notes[count - 1].at + notes[count - 1].len;
    double touch = chance_between(c, 0.75, 1.08), swing = chance_uniform(c) < 0.35 ? h->swing : 0;
    size_t i = 0, sounding = 0;
    for (double grid = 0; grid <= end + 0.25;) {
        double point = i < count && notes[i].at < grid ? notes[i].at : grid;
        double bars = (point - pickup) / bar;
        wander = 0.93 * wander + h->wander * chance_bell(c) * sqrt(point - at);
        clock += (point - at) * quarter_s * tempo_of(h, &notes[sounding], bars, wander);
        at = point;
        bool here = i < count && notes[i].at <= point + 1e-6;
        if (here && i && chance_uniform(c) < h->stops) clock += chance_between(c, 0.2, 0.9);
        if (here && going[i].stop_s > 0)
            clock = fmax(out->notes[out->note_count - 1].off_s, clock - quarter_s) + going[i].stop_s;
        for (; i < count && notes[i].at <= point + 1e-6; i++) {
            double in_quarter = point - floor(point), in_bar = bars - floor(bars);
            double late = fabs(in_quarter - 0.5) < 0.01 ? swing * quarter_s * 0.5 : 0;
            double strength = in_bar < 0.01 ? 1 : in_quarter < 0.01 ? 0.4 : -0.3;
            double held = fmax(0.05, notes[i].len * quarter_s * touch * (1 + 0.1 * chance_bell(c)));
            sing_note(h, &notes[i], clock + late + chance_bell(c) * h->jitter_s, held, strength, c, out);
            sounding = i;
        }
        place(out, point, clock, going[sounding].again);
        if (point >= grid - 1e-9) grid += 0.25;
    }
}

/* The notes as they will be played: now and then the player breaks off, stops, and takes a bar
   line just before, or the start, again.  Places stay in step with the bar.  Returns how many notes. */
static size_t go_back(const struct us_note *notes, size_t count, double bar, double pickup,
                      double chance_each, struct chance *c, struct us_note *out, struct going *going,
                      size_t room)
{
    double moved = 0;
    size_t n = 0, since = 0;
    for (size_t i = 0; i < count && n < room; i++, since++) {
        out[n] = notes[i];
        out[n].at += moved;
        going[n++] = (struct going){0, moved};
        if (since < 7 || i + 1 == count || n == room || chance_uniform(c) >= chance_each) continue;
        double line = pickup + bar * (floor((notes[i].at - pickup) / bar) - (chance_uniform(c) < 0.4));
        bool start = chance_uniform(c) < 0.3 || line <= notes[0].at;
        size_t again = 0;
        while (!start && notes[again].at < line - 1e-6)
            again++;
        double free_at = notes[i].at + notes[i].len - notes[again].at;
        moved += bar * ceil(free_at / bar - 1e-6);
        going[n] = (struct going){chance_between(c, 0.4, 1.8), moved};
        out[n] = notes[again];
        out[n++].at += moved;
        i = again;
        since = 0;
    }
    return n;
}

bool player_perform(enum player player, const struct us_note *notes, size_t count, double bar_quarters,
                    double pickup, double quarters_a_minute, uint64_t seed, struct performance *out)
{
    if (!count) return false;
    struct chance c = {seed};
    double quarter_s = 60.0 / quarters_a_minute;
    const struct singing *h = player > PLAYER_STRUGGLING ? &SINGING[player - PLAYER_EVEN_SINGING] : NULL;
    size_t room = 2 * count;
    struct us_note *played = calloc(room, sizeof *played);
    struct going *going = calloc(room + 1, sizeof *going);
    bool ok = played && going;
    if (ok) {
        count = go_back(notes, count, bar_quarters, pickup, h ? h->goes_back : 0, &c, played, going, room);
        ok = make(out, count, h && h->ornaments > 0 ? TRILL_NOTES + 3 : 3,
                  played[count - 1].at + played[count - 1].len);
    }
    if (ok) {
        if (h)
            play_singing(h, played, going, count, bar_quarters, pickup, quarter_s, &c, out);
        else
            play_plain(&PLAIN[player], played, count, quarter_s, &c, out);
        out->end_quarters = played[count - 1].at + played[count - 1].len;
        qsort(out->notes, out->note_count, sizeof *out->notes, by_time);
    }
    free(played);
    free(going);
    return ok;
}
