#include <math.h>
#include <stdlib.h>

#include "repeats.h"

/* What is looked at (chosen by us, no source). */
enum {
    SHORTEST = 8, /* notes of a tune */
    LONGEST = 400,
    BOUNDS_MOST = 64, /* places where a time through may begin, in a session */
    ENDS_TRIED = 4,   /* of them, where one may end */
    PIECES_TRIED = 24,
    OPENING = 8,
    OPENING_SAME = 6, /* of the notes of an opening that comes back */
    APART = 5         /* notes between two bounds */
};
static const double PAUSE_S = 1.2, PAUSE_TIMES = 2.5, LONG_PAUSE = 0.4, LONGEST_PAUSE_S = 6;
/* A note of the tune's length costs so much: of two pieces that explain the same, the shorter one is the
 * tune. */
static const double LENGTH_COST = 0.1;
/* All that is explained, in lengths of the piece: it must come again for the greater part. */
static const double AGAIN = 1.6;

struct bounds {
    size_t at[BOUNDS_MOST + 1];
    size_t count;
};

static int by_size(const void *a, const void *b)
{
    int64_t one = *(const int64_t *)a, other = *(const int64_t *)b;
    return (one > other) - (one < other);
}

static int64_t usual_gap(const struct us_session *session)
{
    int64_t *gaps = calloc(session->count, sizeof *gaps);
    if (!gaps) return 0;
    for (size_t i = 1; i < session->count; i++)
        gaps[i - 1] = session->played[i].at_ns - session->played[i - 1].at_ns;
    qsort(gaps, session->count - 1, sizeof *gaps, by_size);
    int64_t usual = gaps[(session->count - 1) / 2];
    free(gaps);
    return usual;
}

/* The opening at `from` again at `at`, moved, with a wrong note or two. */
static bool opens_again(const struct us_session *session, size_t from, size_t at)
{
    if (at + OPENING > session->count) return false;
    for (int ref = 0; ref < 3; ref++) {
        int same = 0,
            shift = session->played[at + (size_t)ref].pitch - session->played[from + (size_t)ref].pitch;
        for (size_t k = 0; k < OPENING; k++)
            same += session->played[at + k].pitch - session->played[from + k].pitch == shift;
        if (same >= OPENING_SAME) return true;
    }
    return false;
}

static void add_bound(struct bounds *b, size_t at)
{
    if (b->count < BOUNDS_MOST && (!b->count || at >= b->at[b->count - 1] + APART)) b->at[b->count++] = at;
}

static double longest_gap(const struct us_session *session)
{
    int64_t longest = 0;
    for (size_t i = 1; i < session->count; i++)
        if (session->played[i].at_ns - session->played[i - 1].at_ns > longest)
            longest = session->played[i].at_ns - session->played[i - 1].at_ns;
    return (double)longest;
}

/* Where times through may begin: the start, after pauses, and where the opening comes back. */
static void find_bounds(const struct us_session *session, double pause, struct bounds *b)
{
    b->count = 0;
    for (size_t i = 0; i < session->count; i++) {
        bool rested = i && (double)(session->played[i].at_ns - session->played[i - 1].at_ns) > pause;
        if (i == 0 || rested || (session->count > OPENING && i >= OPENING && opens_again(session, 0, i)))
            add_bound(b, i);
    }
    b->at[b->count] = session->count;
}

double repeats_note_length(double quarters)
{
    return fmin(fmax(quarters, 0.1), 4);
}

struct us_note *repeats_notes(const struct repeat_piece *piece)
{
    const struct us_played *played = piece->session->played + piece->first;
    struct us_note *notes = calloc(piece->count, sizeof *notes);
    double at = 0, quarter = fmax(1, (double)usual_gap(piece->session));
    for (size_t i = 0; notes && i < piece->count; i++) {
        double len = i + 1 < piece->count ? (double)(played[i + 1].at_ns - played[i].at_ns) / quarter : 2;
        len = repeats_note_length(len);
        notes[i] = (struct us_note){at, len, played[i].pitch, 70};
        at += len;
    }
    return notes;
}

double repeats_worth(const struct us_session *sessions, size_t count, const struct us_note *notes,
                     size_t note_count)
{
    struct us_tune tune = {.notes = notes, .note_count = note_count, .metre = {4, 4}, .title = ""};
    double fit = us_review_fit(sessions, count, &tune);
    if (fit < 0) return fit;
    return fit < AGAIN * (double)note_count ? 0 : fit - LENGTH_COST * (double)note_count;
}

/* Keeps the worthiest. */
static void keep(struct repeat_pieces *best, struct repeat_piece piece)
{
    size_t i = best->count < REPEAT_PIECES ? best->count++ : REPEAT_PIECES - 1;
    if (best->list[i].count && best->list[i].worth >= piece.worth) return;
    for (; i > 0 && best->list[i - 1].worth < piece.worth; i--)
        best->list[i] = best->list[i - 1];
    best->list[i] = piece;
}

static bool try_piece(struct repeat_piece piece, const struct us_session *heard, size_t count,
                      struct repeat_pieces *best)
{
    if (piece.count < SHORTEST || piece.count > LONGEST) return true;
    struct us_note *notes = repeats_notes(&piece);
    if (!notes) return false;
    piece.worth = repeats_worth(heard, count, notes, piece.count);
    free(notes);
    if (piece.worth > 0) keep(best, piece);
    return piece.worth >= 0;
}

static bool try_pieces(const struct us_session *session, double pause, const struct us_session *heard,
                       size_t count, struct repeat_pieces *best, int *tried)
{
    struct bounds bounds;
    bool good = true;
    find_bounds(session, pause, &bounds);
    for (size_t a = 0; a < bounds.count && *tried < PIECES_TRIED; a++)
        for (size_t e = a + 1; e <= bounds.count && e <= a + ENDS_TRIED && good; e++, ++*tried) {
            struct repeat_piece piece = {session, bounds.at[a], bounds.at[e] - bounds.at[a], 0};
            good = try_piece(piece, heard, count, best);
        }
    return good;
}

/* Bounded by its longest pauses first, then by all of them. */
static bool try_session(const struct us_session *session, const struct us_session *heard, size_t count,
                        struct repeat_pieces *best, int *tried)
{
    if (session->count < SHORTEST) return true;
    double pause = fmax(PAUSE_S * 1e9, PAUSE_TIMES * (double)usual_gap(session));
    double longest = fmax(pause, LONG_PAUSE * fmin(longest_gap(session), LONGEST_PAUSE_S * 1e9));
    return try_pieces(session, longest, heard, count, best, tried) &&
           (longest <= pause || try_pieces(session, pause, heard, count, best, tried));
}

bool repeats_find(const struct us_session *sessions, size_t count, struct repeat_pieces *best)
{
    int tried = 0;
    bool good = true;
    *best = (struct repeat_pieces){0};
    /* The latest sessions know the tune best. */
    for (size_t i = count; i-- > 0 && good;)
        good = try_session(&sessions[i], sessions, count, best, &tried);
    return good;
}
