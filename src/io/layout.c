#include "layout.h"

#include <stdlib.h>
#include <string.h>

enum { SMALLEST = US_TICKS / 64 };
#define WHOLE (4 * (int64_t)US_TICKS)

bool us_face_head(int64_t face, double *quarters, int *dots)
{
    int64_t units = face / SMALLEST;
    if (face % SMALLEST || units < 1) return false;
    int shift = 0;
    while (units % 2 == 0)
        units /= 2, shift++;
    if (units != 1 && units != 3 && units != 7) return false;
    *dots = units == 1 ? 0 : units == 3 ? 1 : 2;
    *quarters = (double)((int64_t)1 << (shift + *dots)) / 64;
    return *quarters <= 8;
}

static bool has_head(int64_t face)
{
    double quarters;
    int dots;
    return us_face_head(face, &quarters, &dots);
}

static bool push(struct us_signs *signs, struct us_sign sign)
{
    if (!us_grow((void **)&signs->list, &signs->room, signs->count, sizeof sign)) return false;
    signs->list[signs->count++] = sign;
    return true;
}

void us_signs_finish(struct us_signs *signs)
{
    free(signs->list);
    memset(signs, 0, sizeof *signs);
}

/* Cuts sign `i` at `at`, which lies inside it; the second half is put behind it. */
static bool cut(struct us_signs *signs, size_t i, int64_t at)
{
    if (!push(signs, (struct us_sign){0})) return false;
    memmove(signs->list + i + 1, signs->list + i, (signs->count - 1 - i) * sizeof *signs->list);
    struct us_sign *one = &signs->list[i], *two = one + 1;
    two->len = one->at + one->len - at;
    two->at = at;
    one->len = at - one->at;
    if (one->face) {
        int64_t whole = one->face, total = one->len + two->len, common = us_common_divisor(whole, total);
        one->face = whole / common * one->len / (total / common);
        two->face = whole - one->face;
    }
    two->flags &= (uint8_t) ~(US_WRITTEN_SLUR_OPEN | US_WRITTEN_LINE);
    one->flags &= (uint8_t)~US_WRITTEN_SLUR_CLOSE;
    two->tuplet_count = 0;
    one->tuplet_last = false;
    if (one->pitch != US_REST) {
        one->flags |= US_WRITTEN_TIE;
        two->tied_from = true;
    }
    return true;
}

/* The bar's notes with rests between them. */
static bool collect(const struct us_written *w, const struct us_written_bar *bar, int voice,
                    struct us_signs *signs)
{
    int64_t at = bar->at, end = bar->at + bar->len;
    size_t i = us_first_from(w->notes[voice], w->note_count[voice], sizeof *w->notes[voice], bar->at);
    for (; i < w->note_count[voice] && w->notes[voice][i].at < end; i++) {
        const struct us_written_note *note = &w->notes[voice][i];
        if (note->at > at && !push(signs, (struct us_sign){.at = at, .len = note->at - at, .pitch = US_REST}))
            return false;
        const struct us_written_note *before = i ? note - 1 : NULL;
        struct us_sign sign = {.at = note->at,
                               .len = note->len,
                               .pitch = note->pitch,
                               .spelling = note->spelling,
                               .flags = note->flags};
        sign.tied_from = before && before->flags & US_WRITTEN_TIE && before->pitch == note->pitch;
        if (!push(signs, sign)) return false;
        at = note->at + note->len;
    }
    return at >= end || push(signs, (struct us_sign){.at = at, .len = end - at, .pitch = US_REST});
}

static bool cut_where_chords_change(const struct us_written *w, struct us_signs *signs)
{
    for (size_t i = 0; i < signs->count; i++) {
        const struct us_sign *sign = &signs->list[i];
        size_t c = us_first_from(w->chords, w->chord_count, sizeof *w->chords, sign->at + 1);
        if (c == w->chord_count || w->chords[c].at >= sign->at + sign->len) continue;
        if (!cut(signs, i, w->chords[c].at)) return false;
    }
    return true;
}

static bool on_grid(int64_t ticks)
{
    return ticks % SMALLEST == 0;
}

static const struct {
    uint8_t p, q;
} TUPLETS[] = {{3, 2}, {5, 4}, {7, 4}, {9, 8}, {11, 8}, {13, 8}};

/* Marks a tuplet over the signs from `first` up to `end`; returns the index behind it. */
static size_t mark_tuplet(struct us_signs *signs, size_t first, int64_t end, uint8_t p, uint8_t q)
{
    size_t i = first;
    for (; i < signs->count && signs->list[i].at < end; i++) {
        signs->list[i].tuplet_p = p;
        signs->list[i].tuplet_q = q;
        signs->list[i].face = signs->list[i].len * p / q;
    }
    signs->list[first].tuplet_count = 1; /* counted when all is cut */
    signs->list[i - 1].tuplet_last = true;
    return i;
}

/* A stretch of time that may be a tuplet. */
struct stretch {
    int64_t at, span;
    uint8_t p, q;
};

/* Whether the signs from `first` on, cut to the stretch, are whole multiples of its p-th part, or of its
   `parts` times p-th part, and have note heads when p stand for q.  `whole`: nothing runs on behind it. */
static bool fits(const struct us_signs *signs, size_t first, struct stretch s, int parts, bool whole)
{
    int64_t unit = s.span / (s.p * parts), end = s.at + s.span;
    if (unit * s.p * parts != s.span) return false;
    for (size_t i = first; i < signs->count && signs->list[i].at < end; i++) {
        const struct us_sign *sign = &signs->list[i];
        int64_t from = sign->at > s.at ? sign->at : s.at, until = sign->at + sign->len;
        if (until > end && whole) return false;
        if (until > end) until = end;
        if ((until - from) % unit || (until - from) * s.p % ((int64_t)s.q * SMALLEST)) return false;
    }
    return true;
}

/* How a tuplet is looked for, the most readable way first. */
struct search {
    int64_t longest;
    int parts;
    bool whole;  /* it ends with a note */
    bool inside; /* it starts inside the first sign */
};
static const struct search SEARCHES[] = {
    {4 * (int64_t)US_TICKS, 1, true, false}, {US_TICKS, 2, true, false},
    {4 * (int64_t)US_TICKS, 1, true, true},  {4 * (int64_t)US_TICKS, 1, false, false},
    {4 * (int64_t)US_TICKS, 1, false, true}, {4 * (int64_t)US_TICKS, 2, false, false},
};

/* The starts to try: the sign's own, or the points on the grid that leave 1 to p-1 parts of the tuplet in it.
 */
static bool fits_somewhere(const struct us_signs *signs, size_t first, const struct search *search,
                           int64_t bar_end, struct stretch *s)
{
    const struct us_sign *sign = &signs->list[first];
    int64_t end = sign->at + sign->len;
    s->at = sign->at;
    if (!search->inside)
        return s->at + s->span <= bar_end && end <= s->at + s->span &&
               fits(signs, first, *s, search->parts, search->whole);
    for (int i = 1; i < s->p; i++) {
        s->at = end - s->span / s->p * i;
        if (s->at > sign->at && on_grid(s->at) && s->at + s->span <= bar_end &&
            fits(signs, first, *s, search->parts, search->whole))
            return true;
    }
    return false;
}

/* Of tuplets that end with a note the shortest, of others the one with the longest parts. */
static bool search_tuplet(const struct us_signs *signs, size_t first, int64_t bar_end, struct stretch *found)
{
    for (size_t i = 0; i < sizeof SEARCHES / sizeof *SEARCHES; i++) {
        int64_t shortest = US_TICKS / 8, longest = SEARCHES[i].longest;
        for (int64_t up = shortest, down = longest; up <= longest; up *= 2, down /= 2)
            for (size_t t = 0; t < sizeof TUPLETS / sizeof *TUPLETS; t++) {
                *found = (struct stretch){0, SEARCHES[i].whole ? up : down, TUPLETS[t].p, TUPLETS[t].q};
                if (fits_somewhere(signs, first, &SEARCHES[i], bar_end, found)) return true;
            }
    }
    return false;
}

/* Marks the tuplet that begins at or inside sign `first`, cutting what runs into it or out of it.  False when
   memory ends. */
static bool find_tuplet(struct us_signs *signs, size_t *first, int64_t bar_end)
{
    struct stretch s;
    struct us_sign *sign = &signs->list[*first];
    if (!search_tuplet(signs, *first, bar_end, &s)) {
        sign->face = sign->len; /* no note value at all: left as it is */
        (*first)++;
        return true;
    }
    if (s.at > sign->at) {
        if (!cut(signs, *first, s.at)) return false;
        signs->list[*first].face = signs->list[*first].len;
        (*first)++;
    }
    int64_t end = s.at + s.span;
    for (size_t i = *first; i < signs->count && signs->list[i].at < end; i++)
        if (signs->list[i].at + signs->list[i].len > end && !cut(signs, i, end)) return false;
    *first = mark_tuplet(signs, *first, end, s.p, s.q);
    return true;
}

static bool find_tuplets(struct us_signs *signs, int64_t bar_at, int64_t bar_end)
{
    for (size_t i = 0; i < signs->count;) {
        struct us_sign *sign = &signs->list[i];
        if (on_grid(sign->at - bar_at) && on_grid(sign->len)) {
            sign->face = sign->len;
            i++;
        } else if (!find_tuplet(signs, &i, bar_end)) {
            return false;
        }
    }
    return true;
}

/* The strongest point inside the sign: of the beats, else of their halves and so on. */
static int64_t strongest_inside(const struct us_sign *sign, const struct us_written_bar *bar)
{
    int64_t beat = (int64_t)(us_metre_beat_quarters(bar->metre) * US_TICKS);
    int64_t half = (int64_t)(us_metre_half_quarters(bar->metre) * US_TICKS);
    int64_t from = sign->at - bar->at, until = from + sign->len;
    int64_t grids[] = {half,         beat,          US_TICKS,      US_TICKS / 2, US_TICKS / 4,
                       US_TICKS / 8, US_TICKS / 16, US_TICKS / 32, SMALLEST};
    for (size_t g = 0; g < sizeof grids / sizeof *grids; g++) {
        int64_t last = (until - 1) / grids[g] * grids[g];
        if (last > from) return bar->at + last;
    }
    return sign->at + sign->len / 2;
}

/* Cuts what is longer than any note head at every whole note of the bar: bars may be as long as they like. */
static bool cut_longest(struct us_signs *signs, const struct us_written_bar *bar)
{
    for (size_t i = 0; i < signs->count; i++) {
        const struct us_sign *sign = &signs->list[i];
        if (sign->len <= 2 * WHOLE) continue;
        if (!cut(signs, i, bar->at + ((sign->at - bar->at) / WHOLE + 1) * WHOLE)) return false;
    }
    return true;
}

/* Cuts what has no note head into pieces that have. */
static bool cut_to_heads(struct us_signs *signs, const struct us_written_bar *bar)
{
    for (size_t i = 0; i < signs->count; i++)
        for (int turn = 0; turn < 12 && !has_head(signs->list[i].face); turn++) {
            struct us_sign *sign = &signs->list[i];
            if (!on_grid(sign->face)) break;
            int64_t at = strongest_inside(sign, bar);
            if (sign->tuplet_p) {
                int64_t units = sign->face / SMALLEST, head = 1;
                while (head * 2 <= units)
                    head *= 2;
                at = sign->at + head * SMALLEST * sign->tuplet_q / sign->tuplet_p;
            }
            if (!cut(signs, i, at)) return false;
        }
    return true;
}

static void count_tuplets(struct us_signs *signs)
{
    for (size_t i = 0; i < signs->count; i++) {
        if (!signs->list[i].tuplet_count) continue;
        size_t j = i;
        while (j < signs->count && !signs->list[j].tuplet_last)
            j++;
        signs->list[i].tuplet_count = (uint8_t)(j - i + 1);
    }
}

bool us_layout_bar(const struct us_written *written, size_t bar, int voice, bool cut_at_chords,
                   struct us_signs *signs)
{
    const struct us_written_bar *b = &written->bars[bar];
    signs->count = 0;
    if (!collect(written, b, voice, signs)) return false;
    if (cut_at_chords && !cut_where_chords_change(written, signs)) return false;
    if (!find_tuplets(signs, b->at, b->at + b->len) || !cut_longest(signs, b) || !cut_to_heads(signs, b))
        return false;
    count_tuplets(signs);
    return true;
}
