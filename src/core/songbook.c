#include "undersong/songbook.h"

#include <math.h>
#include <string.h>

/* As in score.c: what a player does between two notes, and which key is struck. */
static const float GO_ON = 0.90f, STAY = 0.04f, SKIP = 0.03f;
static const float RIGHT = 0.94f, NEIGHBOUR = 0.015f, WRONG = 0.002f;
static const float ADDED = 0.02f, ADDED_AT_ONCE = 0.45f, ANY_PITCH = 0.06f;
static const int64_t AT_ONCE_NS = 100000000;
/* How well an unknown tune would be foretold. */
static const float UNKNOWN_TUNE = 0.09f, UNKNOWN_PRIOR = 0.3f;
/* From the third note on a tune this much less likely than the best is given up. */
static const float GIVE_UP = 1e-5f;
static const float START_WEIGHT[US_SONG_STARTS] = {0.90f, 0.04f, 0.06f};
enum { MIDDLE = US_SONG_BAND / 2 };

void us_songbook_listen(struct us_songbook_listener *l, const struct us_songbook *book)
{
    l->book = book;
    l->heard = l->alive = 0;
    l->unknown = UNKNOWN_PRIOR;
    l->last_ns = l->last_gap_ns = 0;
}

/* The first note on a bar line, where the tune has a pickup; else the first note. */
static int after_pickup(const struct us_score *s)
{
    for (int i = 1; i < s->count && i < MIDDLE; i++)
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

static void first_note(struct us_songbook_listener *l, int pitch)
{
    size_t count = l->book->count < US_SONGBOOK_MAX ? l->book->count : US_SONGBOOK_MAX;
    for (size_t i = 0; i < count; i++) {
        const struct us_song_opening *s = &l->book->openings[i];
        struct us_song_guess *g = &l->guess[i];
        memset(g, 0, sizeof *g);
        g->song = (uint16_t)i;
        int skip = s->skip;
        g->transposition[0] = (int8_t)us_pitch_class(pitch - s->pitch[0]);
        g->transposition[2] = (int8_t)us_pitch_class(pitch - s->pitch[skip]);
        g->weight[0][MIDDLE] = START_WEIGHT[0];
        if (skip) g->weight[2][MIDDLE + skip] = START_WEIGHT[2];
        g->mass = START_WEIGHT[0] + (skip ? START_WEIGHT[2] : 0);
        g->sum = (1 - UNKNOWN_PRIOR) / (float)count;
    }
    l->alive = (uint16_t)count;
}

/* The second note may be the first right one. */
static void second_start(struct us_song_guess *g, const struct us_song_opening *s, int pitch)
{
    g->transposition[1] = (int8_t)us_pitch_class(pitch - s->pitch[1]);
    g->weight[1][MIDDLE] = START_WEIGHT[1] * RIGHT * GO_ON;
}

static float emission(const struct us_song_opening *s, int place, int pitch, int transposition)
{
    int d = us_pitch_class(pitch - s->pitch[place] - transposition);
    if (d == 0) return RIGHT;
    return d <= 2 || d >= 10 ? NEIGHBOUR : WRONG;
}

/* How well the ratio of the last two gaps fits the written one. */
static float rhythm_fit(const struct us_song_opening *s, int place, float log_ratio, bool known)
{
    if (!known || place < 2) return 0.8f;
    float off = log_ratio - (s->log_gap[place] - s->log_gap[place - 1]);
    return 0.25f + 0.75f / (1 + 4 * off * off);
}

static float advance(struct us_song_guess *g, const struct us_song_opening *s, int next, int pitch,
                     float log_ratio, bool known, float added)
{
    float sum = 0;
    for (int start = 0; start < US_SONG_STARTS; start++) {
        if ((start == 1 && next < 2) || (start == 2 && !s->skip)) continue;
        float *w = g->weight[start], moved[US_SONG_BAND] = {0};
        /* After a few notes only places near the expected one have any weight. */
        int middle = MIDDLE + (start == 2 ? s->skip : 0);
        int low = middle - next < 0 ? 0 : middle - next, high = middle + next;
        for (int k = low; k <= high && k < US_SONG_BAND; k++) {
            int place = next + k - MIDDLE;
            if (place < 0 || place >= s->count) continue;
            /* The band has moved by one: index k was k - 1 places on the note before. */
            float same = w[k], skipped = k > 0 ? w[k - 1] : 0, stayed = k + 1 < US_SONG_BAND ? w[k + 1] : 0;
            float come = GO_ON * same + SKIP * skipped;
            if (come + stayed <= 0) continue;
            float played = (come * rhythm_fit(s, place, log_ratio, known) + STAY * stayed) *
                           emission(s, place, pitch, g->transposition[start]);
            moved[k] = (1 - added) * played + added * ANY_PITCH * stayed;
            sum += moved[k];
        }
        memcpy(w, moved, sizeof moved);
    }
    return sum;
}

static void share_out(struct us_songbook_listener *l)
{
    float total = l->unknown, best = 1e-30f;
    for (uint16_t i = 0; i < l->alive; i++) {
        total += l->guess[i].sum;
        if (l->guess[i].sum > best) best = l->guess[i].sum;
    }
    l->unknown /= total;
    for (uint16_t i = 0; i < l->alive;) {
        struct us_song_guess *g = &l->guess[i];
        if (l->heard > 2 && g->sum < best * GIVE_UP) {
            *g = l->guess[--l->alive];
            continue;
        }
        g->sum /= total;
        i++;
    }
}

void us_songbook_note(struct us_songbook_listener *l, int64_t at_ns, int pitch)
{
    if (!l->book) return;
    int64_t gap_ns = at_ns - l->last_ns;
    bool known = l->heard >= 2 && gap_ns > 1000000 && l->last_gap_ns > 1000000;
    float added = gap_ns < AT_ONCE_NS ? ADDED_AT_ONCE : ADDED;
    float log_ratio = known ? (float)log((double)gap_ns / (double)l->last_gap_ns) : 0;
    if (l->heard++ == 0) {
        first_note(l, pitch);
    } else {
        for (uint16_t i = 0; i < l->alive; i++) {
            struct us_song_guess *g = &l->guess[i];
            const struct us_song_opening *s = &l->book->openings[g->song];
            float after = advance(g, s, l->heard - 1, pitch, log_ratio, known, added);
            if (l->heard == 2) second_start(g, s, pitch), after += g->weight[1][MIDDLE];
            g->sum *= after / (g->mass + 1e-30f);
            g->mass = after;
        }
        l->unknown *= UNKNOWN_TUNE;
        share_out(l);
    }
    l->last_gap_ns = gap_ns;
    l->last_ns = at_ns;
}

int us_songbook_best(const struct us_songbook_listener *l, double *probability)
{
    const struct us_song_guess *best = NULL;
    for (uint16_t i = 0; i < l->alive; i++)
        if (!best || l->guess[i].sum > best->sum) best = &l->guess[i];
    if (probability) *probability = best ? (double)best->sum : 0;
    return best ? best->song : -1;
}

int us_songbook_place(const struct us_songbook_listener *l, int *transposition)
{
    int song = us_songbook_best(l, NULL), place = 0;
    float most = -1;
    for (uint16_t i = 0; i < l->alive && song >= 0; i++) {
        const struct us_song_guess *g = &l->guess[i];
        for (int start = 0; start < US_SONG_STARTS && g->song == song; start++)
            for (int k = 0; k < US_SONG_BAND; k++) {
                if (g->weight[start][k] <= most) continue;
                most = g->weight[start][k];
                place = l->heard - 1 + k - MIDDLE;
                *transposition = g->transposition[start];
            }
    }
    return place;
}
