#include "undersong/songbook.h"

#include <math.h>
#include <string.h>

/* As in score.c: what a player does between two notes, and which key is struck.  Common practice, no source:
   the figures were set on simulated players of half of a corpus and judged on the other half. */
static const float GO_ON = 0.90f, STAY = 0.03f, SKIP = 0.03f;
static const float RIGHT = 0.94f, NEIGHBOUR = 0.015f, OCTAVE = 0.006f, WRONG = 0.002f;
/* An ornament, or a note struck too much: how often, how often where notes come at once, and which key. */
static const float ADDED = 0.03f, ADDED_AT_ONCE = 0.5f, ADDED_NEAR = 0.15f, ADDED_FAR = 0.01f;
static const int64_t AT_ONCE_NS = 120000000;
enum { NEAR = 4 };
/* Between right ones how probable the four starts are: the first note, an ornament before it, a wrong note in
   its place, the pickup left out. */
static const float START = 0.86f, ORNAMENT_FIRST = 0.05f, WRONG_FIRST = 0.04f, PICKUP_LEFT_OUT = 0.05f;
/* How well an unknown tune would be foretold. */
static const float UNKNOWN_TUNE = 0.085f, UNKNOWN_PRIOR = 0.3f;
/* Of tunes less probable than this it does not matter whether they are the same. */
static const float TWIN = 0.01f;
/* A guess that is this improbable is given up. */
static const float GIVE_UP = 1e-7f;
/* The tempo of a tune that begins: log of 0.65 s a quarter, give or take a third.  Then a gap fits within a
   sixth and 30 ms; one that does not fit at all, because the player waits, still keeps so much. */
static const float USUAL_QUARTER = 20.2925f, TEMPO_WIDTH = 0.45f, GAP_WIDTH = 0.20f, GAP_WIDTH_NS = 3e7f;
static const float ANY_GAP = 0.20f, SKIPPED_GAP = 0.4f, FIRST_GAP = 0.6f;
enum { WORST_TEMPO_GAINS = 4 };

void us_songbook_listen(struct us_songbook_listener *l, const struct us_songbook *book)
{
    l->book = book;
    l->heard = l->alive = 0;
    l->unknown = UNKNOWN_PRIOR;
    l->last_ns = l->last_gap_ns = 0;
    l->note.waits = false;
}

/* The first note on a bar line, where the tune has a pickup; else the first note. */
static int after_pickup(const struct us_score *s)
{
    for (int i = 1; i < s->count && i < US_SONG_OPENING / 2; i++)
        if (s->at[i] >= (float)s->tune.pickup - 0.01f) return s->tune.pickup > 0 ? i : 0;
    return 0;
}

void us_song_opening(struct us_song_opening *opening, const struct us_score *score)
{
    memset(opening, 0, sizeof *opening);
    opening->count = (uint8_t)(score->count < US_SONG_OPENING ? score->count : US_SONG_OPENING);
    opening->skip = (uint8_t)after_pickup(score);
    memcpy(opening->pitch, score->pitch, opening->count);
    memcpy(opening->log_gap, score->log_gap, opening->count * sizeof *score->log_gap);
}

static size_t songs_of(const struct us_songbook *book)
{
    return book->count < US_SONGBOOK_MAX ? book->count : US_SONGBOOK_MAX;
}

/* A new guess: the note that has just been heard is the tune's `place`, the first one heard was `first`. */
static void guess_that(struct us_songbook_listener *l, int song, int first, int place, float weight)
{
    const struct us_song_opening *s = &l->book->openings[song];
    if (l->alive == US_SONG_GUESSES || place >= s->count) return;
    struct us_song_guess *g = &l->guess[l->alive++];
    memset(g, 0, sizeof *g);
    g->song = (uint16_t)song;
    g->first = (int8_t)first;
    g->transposition = (int16_t)(l->note.pitch - s->pitch[place]);
    g->log_quarter_ns = USUAL_QUARTER;
    g->played[US_SONG_BEHIND] = weight;
    l->next_sum[song] += weight;
    l->note.total += weight;
}

/* The guesses that begin with this note: with the first note heard the tune's first or the one after the
   pickup, with the second the first right one. */
static void begin_guesses(struct us_songbook_listener *l, int song)
{
    float each = (1 - UNKNOWN_PRIOR) / (float)songs_of(l->book);
    if (l->heard == 1) {
        int skip = l->book->openings[song].skip;
        guess_that(l, song, 0, 0, each * START);
        if (skip) guess_that(l, song, skip, skip, each * PICKUP_LEFT_OUT);
    } else if (l->heard == 2) {
        guess_that(l, song, -1, 0, each * ORNAMENT_FIRST * ADDED_NEAR * l->note.scale);
        guess_that(l, song, 0, 1, each * WRONG_FIRST * NEIGHBOUR * l->note.scale);
    }
}

static float struck(const struct us_song_opening *s, int place, int pitch, int transposition)
{
    int off = pitch - s->pitch[place] - transposition;
    if (off == 0) return RIGHT;
    if (off == 12 || off == -12) return OCTAVE;
    return off >= -2 && off <= 2 ? NEIGHBOUR : WRONG;
}

/* How well a gap fits the written one before a place, 1 where it does perfectly. */
static float gap_fit(const struct us_song_guess *g, float log_gap, float narrow, float written)
{
    if (log_gap <= 0) return FIRST_GAP;
    float off = log_gap - g->log_quarter_ns - written;
    if (!g->gaps) return ANY_GAP + (FIRST_GAP - ANY_GAP) / (1 + off * off / (TEMPO_WIDTH * TEMPO_WIDTH));
    return ANY_GAP + (1 - ANY_GAP) / (1 + off * off * narrow);
}

static void learn_tempo(struct us_song_guess *g, float log_gap, float written)
{
    if (log_gap <= 0) return;
    float off = log_gap - written - g->log_quarter_ns;
    if (g->gaps && off > 0.4f) off = 0.1f; /* a hesitation says little about the tempo */
    if (g->gaps < WORST_TEMPO_GAINS) g->gaps++;
    g->log_quarter_ns += off * (g->gaps == 1 ? 0.85f : 1 / (float)g->gaps);
}

/* One guess goes one note on; returns what it weighs now. */
static float go_on(struct us_song_guess *g, const struct us_song_opening *s, int heard,
                   const struct us_song_note *note)
{
    float played[US_SONG_BAND] = {0}, added[US_SONG_BAND] = {0}, sum = 0, most = 0, most_gap = 0,
          most_written = 0;
    int middle = g->first + heard - 1;
    /* The band has moved by one: index k was k - 1 places on the note before. */
    for (int k = 0; k < US_SONG_BAND; k++) {
        int place = middle + k - US_SONG_BEHIND;
        if (place < 0 || place >= s->count) continue;
        float stays = k + 1 < US_SONG_BAND ? g->played[k + 1] : 0,
              adds = k + 1 < US_SONG_BAND ? g->added[k + 1] : 0;
        float one = GO_ON * g->played[k], two = GO_ON * g->added[k];
        float skips = k > 0 ? SKIP * (g->played[k - 1] + g->added[k - 1]) : 0;
        if (one + two + skips + stays + adds <= 0) continue;
        if (one > 0) one *= gap_fit(g, note->log_gap, note->narrow_gap, s->log_gap[place]);
        if (two > 0) two *= gap_fit(g, note->log_two_gaps, note->narrow_two_gaps, s->log_gap[place]);
        float arrives = one + two + skips * SKIPPED_GAP + STAY * stays;
        int off = note->pitch - s->pitch[place] - g->transposition;
        played[k] =
            (1 - note->added) * arrives * struck(s, place, note->pitch, g->transposition) * note->scale;
        added[k] = note->added * (stays + adds) * note->scale *
                   (off >= -NEAR && off <= NEAR ? ADDED_NEAR : ADDED_FAR);
        sum += played[k] + added[k];
        if (played[k] <= most) continue;
        most = played[k];
        most_gap = one + two < skips * SKIPPED_GAP + STAY * stays ? 0
                   : one >= two                                   ? note->log_gap
                                                                  : note->log_two_gaps;
        most_written = s->log_gap[place];
    }
    memcpy(g->played, played, sizeof played);
    memcpy(g->added, added, sizeof added);
    learn_tempo(g, most_gap, most_written);
    return sum;
}

static float narrow(int64_t gap_ns)
{
    float width = GAP_WIDTH + GAP_WIDTH_NS / (float)gap_ns;
    return 1 / (width * width);
}

void us_songbook_hear(struct us_songbook_listener *l, int64_t at_ns, int pitch)
{
    if (!l->book) return;
    while (!us_songbook_work(l, US_SONG_GUESSES))
        ;
    struct us_song_note before = l->note;
    int64_t gap_ns = at_ns - l->last_ns, two_ns = gap_ns + l->last_gap_ns;
    bool second = l->heard >= 1 && gap_ns > 1000000, third = second && l->heard >= 2;
    l->note = (struct us_song_note){.waits = true,
                                    .pitch = (int16_t)pitch,
                                    .log_gap = second ? logf((float)gap_ns) : 0,
                                    .log_two_gaps = third ? logf((float)two_ns) : 0,
                                    .narrow_gap = second ? narrow(gap_ns) : 0,
                                    .narrow_two_gaps = third ? narrow(two_ns) : 0,
                                    .added = l->heard && gap_ns < AT_ONCE_NS ? ADDED_AT_ONCE : ADDED,
                                    .unknown = UNKNOWN_PRIOR,
                                    .scale = 1};
    if (l->heard) {
        l->note.scale = before.scale;
        l->note.unknown = l->unknown * before.scale * UNKNOWN_TUNE;
    }
    l->last_gap_ns = l->heard ? gap_ns : 0;
    l->last_ns = at_ns;
    l->heard++;
    memset(l->next_sum, 0, sizeof l->next_sum);
}

/* All guesses have been looked at. */
static void share_out(struct us_songbook_listener *l)
{
    float scale = 1 / (l->note.total + l->note.unknown);
    for (size_t i = 0; i < songs_of(l->book); i++)
        l->sum[i] = l->next_sum[i] * scale;
    l->unknown = l->note.unknown;
    l->note.scale = scale;
    l->note.waits = false;
}

bool us_songbook_work(struct us_songbook_listener *l, int guesses)
{
    struct us_song_note *note = &l->note;
    if (!note->waits) return true;
    /* The guesses that begin with this note come behind the others: those are gone through first. */
    for (; note->place < l->alive && !note->born; guesses--) {
        if (guesses <= 0) return false;
        struct us_song_guess *g = &l->guess[note->place];
        float weight = go_on(g, &l->book->openings[g->song], l->heard, note);
        if (weight < GIVE_UP * (note->total + note->unknown)) {
            *g = l->guess[--l->alive];
            continue;
        }
        l->next_sum[g->song] += weight;
        note->total += weight;
        note->place++;
    }
    for (; l->heard <= 2 && note->born < songs_of(l->book); guesses--) {
        if (guesses <= 0) return false;
        begin_guesses(l, note->born++);
    }
    share_out(l);
    return true;
}

void us_songbook_note(struct us_songbook_listener *l, int64_t at_ns, int pitch)
{
    us_songbook_hear(l, at_ns, pitch);
    us_songbook_work(l, 2 * US_SONG_GUESSES);
}

/* The same tune in the book once more: all that is kept of both has the same notes, in whatever keys. */
static bool is_twin(const struct us_song_opening *a, const struct us_song_opening *b)
{
    if (a->count != b->count) return false;
    for (int i = 1; i < a->count; i++)
        if (a->pitch[i] - a->pitch[0] != b->pitch[i] - b->pitch[0]) return false;
    return true;
}

int us_songbook_best(const struct us_songbook_listener *l, double *probability)
{
    int best = -1, count = l->book && l->heard ? (int)songs_of(l->book) : 0;
    float most = 0;
    for (int i = 0; i < count; i++)
        if (l->sum[i] > most) most = l->sum[best = i];
    if (!probability) return best;
    *probability = 0;
    for (int i = 0; best >= 0 && i < count; i++)
        if (i == best || (l->sum[i] > TWIN && is_twin(&l->book->openings[i], &l->book->openings[best])))
            *probability += (double)l->sum[i];
    return best;
}

int us_songbook_place(const struct us_songbook_listener *l, int *transposition)
{
    int song = us_songbook_best(l, NULL), place = 0;
    float most = -1;
    for (uint16_t i = 0; i < l->alive && song >= 0; i++) {
        const struct us_song_guess *g = &l->guess[i];
        for (int k = 0; k < US_SONG_BAND && g->song == song; k++) {
            float weight = fmaxf(g->played[k], g->added[k]);
            if (weight <= most) continue;
            most = weight;
            place = g->first + l->heard - 1 + k - US_SONG_BEHIND;
            *transposition = us_pitch_class(g->transposition);
        }
    }
    return place;
}
