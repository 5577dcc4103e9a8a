#include <math.h>
#include <stdlib.h>

#include "review_parts.h"

/* A pause is what the tune and the tempo do not explain: so long, and so much longer than the note. */
static const double WAIT_S = 0.4, WAIT_PART = 0.15;
/* A new take: so long a silence, or from the start again. */
static const double TAKE_NS = 4e9;
/* Of a note's length, when the next one may be meant. */
static const double IN_TIME = 0.6;
enum { FEW_NOTES = 4, NEAR_NOTE = 4 };

bool review_add_mark(struct us_review *review, struct us_review_mark mark)
{
    if (review->mark_count == review->mark_room) {
        size_t room = review->mark_room ? 2 * review->mark_room : 64;
        struct us_review_mark *grown = realloc(review->marks, room * sizeof *grown);
        if (!grown) return false;
        review->marks = grown;
        review->mark_room = room;
    }
    review->marks[review->mark_count++] = mark;
    return true;
}

/* One session while it is read. */
struct reading {
    struct review_work *work;
    const struct us_played *played;
    size_t count;
    struct us_take take;
    size_t first_mark;
    int32_t first_note, last_note;
    bool jumped; /* to a place before which an extra note was played */
};

static struct us_review_mark mark_at(const struct reading *r, enum us_review_mark_kind kind, int32_t note,
                                     size_t i)
{
    const struct us_tune *tune = r->work->tune;
    struct review_place place = r->work->places[note];
    return (struct us_review_mark){.kind = (uint8_t)kind,
                                   .take = (uint32_t)r->work->review->take_count,
                                   .bar = place.bar,
                                   .beat = place.beat,
                                   .note = note,
                                   .at_ns = r->played[i].at_ns,
                                   .wanted = (int16_t)(tune->notes[note].pitch + r->take.shift),
                                   .played = r->played[i].pitch};
}

/* Whether the extra note `i` comes when the next note of the tune is due: then it is not the one before
   struck again. */
static bool comes_in_time(const struct reading *r, size_t i)
{
    const struct us_aligned *a = &r->work->aligned[i];
    const struct us_note *notes = r->work->tune->notes;
    if (i == 0 || a->note < 0 || a[-1].kind == US_ALIGN_EXTRA) return true;
    double due = (notes[a->note + 1].at - notes[a->note].at) * a->quarter_ns;
    return (double)(r->played[i].at_ns - r->played[i - 1].at_ns) > IN_TIME * due;
}

/* Whether the extra note `i` was a slip that the next one puts right. */
static bool is_slip(const struct reading *r, size_t i)
{
    const struct us_aligned *a = &r->work->aligned[i];
    if (i + 1 >= r->count || a[1].kind != US_ALIGN_RIGHT || a[1].begins || a[1].note != a->note + 1)
        return false;
    int off = r->played[i].pitch - r->played[i + 1].pitch;
    return off != 0 && abs(off) <= NEAR_NOTE && comes_in_time(r, i);
}

static bool read_extra(struct reading *r, size_t i)
{
    const struct us_aligned *a = &r->work->aligned[i];
    bool slip = is_slip(r, i);
    if (a->begins) r->jumped = true;
    int32_t note = slip ? a->note + 1 : a->note < 0 ? 0 : a->note;
    struct us_review_mark mark = mark_at(r, slip ? US_REVIEW_WRONG : US_REVIEW_ADDED, note, i);
    mark.corrected = slip;
    if (slip) {
        mark.cause = (uint8_t)review_cause(r->work->tune, r->take.key, note, r->take.shift, mark.played);
        r->take.wrong++;
    } else {
        r->take.added++;
    }
    return review_add_mark(r->work->review, mark);
}

/* The longest silence since the tune's note before, less what the tune asks for. */
static double waited_s(const struct reading *r, size_t i)
{
    const struct us_aligned *aligned = r->work->aligned;
    double longest = 0;
    size_t b = i;
    do {
        b--;
        longest = fmax(longest, (double)(r->played[b + 1].at_ns - r->played[b].at_ns));
    } while (b > 0 && aligned[b].kind == US_ALIGN_EXTRA && !aligned[b].begins);
    if (aligned[b].kind == US_ALIGN_EXTRA || aligned[i].quarter_ns <= 0) return 0;
    const struct us_note *notes = r->work->tune->notes;
    double wanted = (notes[aligned[i].note].at - notes[aligned[b].note].at) * aligned[i].quarter_ns;
    double over = longest - wanted;
    return over > WAIT_S * 1e9 && over > WAIT_PART * wanted ? over / 1e9 : 0;
}

static bool read_note(struct reading *r, size_t i)
{
    const struct us_aligned *a = &r->work->aligned[i];
    struct us_review *review = r->work->review;
    bool good = true;
    for (int32_t m = a->note - a->missed; m < a->note; m++) {
        struct us_review_mark mark = mark_at(r, US_REVIEW_MISSED, m, i);
        mark.played = -1;
        good = good && review_add_mark(review, mark);
        r->take.missed++;
        r->take.notes++;
    }
    bool same_take = i > 0 && r->take.notes > 0;
    double waited = same_take && !a->begins ? waited_s(r, i) : 0;
    if (waited > 0) {
        struct us_review_mark mark = mark_at(r, US_REVIEW_WAITED, a->note, i);
        mark.seconds = waited;
        good = good && review_add_mark(review, mark);
        r->take.waits++;
    }
    if ((a->begins || r->jumped) && same_take) {
        good = good && review_add_mark(review, mark_at(r, US_REVIEW_WENT_BACK, a->note, i));
        r->take.went_back++;
    }
    r->jumped = false;
    r->take.notes++;
    if (a->kind == US_ALIGN_RIGHT) {
        r->take.right++;
    } else {
        struct us_review_mark mark = mark_at(r, US_REVIEW_WRONG, a->note, i);
        mark.cause = (uint8_t)review_cause(r->work->tune, r->take.key, a->note, r->take.shift, mark.played);
        good = good && review_add_mark(review, mark);
        r->take.wrong++;
    }
    if (r->first_note < 0) r->first_note = a->note;
    r->last_note = a->note;
    return good;
}

static struct us_key moved_key(const struct us_review *review, int shift)
{
    struct us_key key = review->key;
    if (key.tonic != US_NO_KEY) key.tonic = (int8_t)us_pitch_class(key.tonic + shift);
    return key;
}

static void open_take(struct reading *r, size_t i)
{
    r->take = (struct us_take){.session = r->work->session,
                               .from_ns = r->played[i].at_ns,
                               .shift = r->work->aligned[i].shift,
                               .key = moved_key(r->work->review, r->work->aligned[i].shift)};
    r->first_mark = r->work->review->mark_count;
    r->first_note = r->last_note = -1;
}

/* A few notes, or mostly other ones, are no time through the tune. */
static bool close_take(struct reading *r, size_t end)
{
    struct us_review *review = r->work->review;
    if (r->take.right < FEW_NOTES || 2 * r->take.right < r->take.notes + r->take.added) {
        review->mark_count = r->first_mark;
        return true;
    }
    r->take.until_ns = r->played[end - 1].until_ns;
    if (end < r->count && r->played[end].at_ns < r->take.until_ns) r->take.until_ns = r->played[end].at_ns;
    r->take.whole = r->first_note == 0 && r->last_note + 1 == (int32_t)r->work->tune->note_count;
    /* Corrected slips were played right in the end, but not at the first try. */
    for (size_t m = r->first_mark; m < review->mark_count; m++)
        if (review->marks[m].corrected && r->take.right) r->take.right--;
    struct us_take *grown = realloc(review->takes, (review->take_count + 1) * sizeof *grown);
    if (!grown) return false;
    review->takes = grown;
    review->takes[review->take_count++] = r->take;
    return true;
}

static bool starts_take(const struct reading *r, size_t i)
{
    const struct us_aligned *a = &r->work->aligned[i];
    if (!a->begins) return false;
    bool from_start = a->note <= 0 && r->last_note >= NEAR_NOTE;
    double silence = (double)(r->played[i].at_ns - r->played[i - 1].at_ns);
    return a->shift != r->take.shift || from_start || silence > TAKE_NS;
}

bool review_read_takes(struct review_work *work)
{
    const struct us_session *session = &work->sessions[work->session];
    struct reading r = {.work = work, .played = session->played, .count = session->count};
    bool good = true;
    for (size_t i = 0; i < session->count && good; i++) {
        if (i > 0 && starts_take(&r, i)) good = close_take(&r, i);
        if (i == 0 || (good && starts_take(&r, i))) open_take(&r, i);
        if (good) good = work->aligned[i].kind == US_ALIGN_EXTRA ? read_extra(&r, i) : read_note(&r, i);
    }
    return good && (session->count == 0 || close_take(&r, session->count));
}
