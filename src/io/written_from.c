/* From a tune back to the page it would be printed from. */
#include "undersong/plain_line.h"
#include "written.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

int64_t us_written_ticks(double quarters)
{
    static const int PARTS[] = {64, 48, 40, 56, 72, 88, 104};
    int64_t ticks = llround(quarters * US_TICKS), best = 0, off = INT64_MAX;
    for (size_t i = 0; i < sizeof PARTS / sizeof *PARTS; i++) {
        int64_t part = US_TICKS / PARTS[i], near = (ticks + part / 2) / part * part;
        if (llabs(near - ticks) <= US_TICKS / 4000) return near;
    }
    for (int parts = 12; parts <= 16; parts += 4) {
        int64_t part = US_TICKS / parts, near = (ticks + part / 2) / part * part;
        if (llabs(near - ticks) < off) off = llabs(near - ticks), best = near;
    }
    return best;
}

struct maker {
    const struct us_tune *tune;
    struct us_written *out;
    bool failed;
    bool respell; /* the notes' own spelling belongs to another signature than the key's */
};

static void add_bar(struct maker *maker, struct us_written_bar bar)
{
    struct us_written *out = maker->out;
    maker->failed = maker->failed || bar.len <= 0 || out->bar_count >= US_PLAYED_BARS_MAX ||
                    !us_grow((void **)&out->bars, &out->bar_room, out->bar_count, sizeof bar);
    if (!maker->failed) out->bars[out->bar_count++] = bar;
}

static int64_t tune_end(const struct us_tune *tune)
{
    double end = 0;
    for (size_t i = 0; i < tune->note_count; i++)
        end = fmax(end, tune->notes[i].at + tune->notes[i].len);
    for (size_t i = 0; i < tune->second_count; i++)
        end = fmax(end, tune->second[i].at + tune->second[i].len);
    return us_written_ticks(end);
}

/* The tune's own bars, and more of them where notes go on behind the last. */
static void make_bars(struct maker *maker)
{
    const struct us_tune *tune = maker->tune;
    int64_t at = 0, end = tune_end(tune);
    struct us_written_bar bar = {.metre = tune->metre, .key = tune->key};
    /* A key that was found or chosen after reading stands over what the bars say. */
    bool own_keys = tune->bar_count && us_key_equal(tune->bars[0].key, tune->key);
    for (size_t i = 0; i < tune->bar_count && !maker->failed; i++) {
        int64_t from = us_written_ticks(tune->bars[i].at);
        bar = (struct us_written_bar){
            .at = at, .metre = tune->bars[i].metre, .key = own_keys ? tune->bars[i].key : tune->key};
        bar.len = us_written_ticks(tune->bars[i].at + tune->bars[i].len) - at;
        maker->failed = maker->failed || from != at;
        add_bar(maker, bar);
        at += bar.len;
    }
    int64_t length = us_written_ticks(us_metre_bar_quarters(bar.metre));
    int64_t pickup = tune->bar_count || tune->pickup < 0 ? 0 : us_written_ticks(tune->pickup) % length;
    while (at < end && !maker->failed) {
        bar.at = at;
        bar.len = pickup ? pickup : length;
        pickup = 0;
        add_bar(maker, bar);
        at += bar.len;
    }
}

static struct us_key key_at(const struct us_written *written, size_t bar)
{
    return bar < written->bar_count ? written->bars[bar].key : written->key;
}

static double slur_start(const struct us_tune *tune, size_t i)
{
    return tune->slurs[i].at;
}

static double slur_end(const struct us_tune *tune, size_t i)
{
    return tune->slurs[i].at + tune->slurs[i].len;
}

static double line_start(const struct us_tune *tune, size_t i)
{
    return tune->lines[i];
}

struct sought {
    const struct us_tune *tune;
    double (*time)(const struct us_tune *tune, size_t i);
    double at, near;
};

static bool time_before(const void *sought, size_t i)
{
    const struct sought *s = sought;
    return s->time(s->tune, i) <= s->at - s->near;
}

/* Whether one of the `count` times, which rise, is this one. */
static bool is_one_of(const struct us_tune *tune, double (*time)(const struct us_tune *tune, size_t i),
                      size_t count, double at)
{
    struct sought s = {tune, time, at, 1e-6};
    size_t i = us_first_not(count, time_before, &s);
    return i < count && time(tune, i) < at + s.near;
}

static uint8_t flags_of(const struct us_tune *tune, double at, double until)
{
    uint8_t flags = 0;
    if (is_one_of(tune, slur_start, tune->slur_count, at)) flags |= US_WRITTEN_SLUR_OPEN;
    if (is_one_of(tune, slur_end, tune->slur_count, until)) flags |= US_WRITTEN_SLUR_CLOSE;
    if (is_one_of(tune, line_start, tune->line_count, at)) flags |= US_WRITTEN_LINE;
    return flags;
}

static void add_note(struct maker *maker, int voice, struct us_written_note note)
{
    struct us_written *out = maker->out;
    maker->failed = maker->failed || !us_grow((void **)&out->notes[voice], &out->note_room[voice],
                                              out->note_count[voice], sizeof note);
    if (!maker->failed) out->notes[voice][out->note_count[voice]++] = note;
}

/* Cuts the note at each bar line and ties the pieces. */
static void cut_note(struct maker *maker, int voice, struct us_written_note note, size_t *bar)
{
    const struct us_written *out = maker->out;
    int64_t end = note.at + note.len;
    uint8_t flags = note.flags, later = US_WRITTEN_SLUR_CLOSE;
    while (*bar + 1 < out->bar_count && out->bars[*bar].at + out->bars[*bar].len <= note.at)
        (*bar)++;
    for (size_t b = *bar; note.at < end && !maker->failed; b++) {
        int64_t bar_end = b < out->bar_count ? out->bars[b].at + out->bars[b].len : end;
        bool last = bar_end >= end;
        note.len = (last ? end : bar_end) - note.at;
        note.flags = (uint8_t)(last ? flags : (flags & ~later) | US_WRITTEN_TIE);
        add_note(maker, voice, note);
        note.at += note.len;
        flags &= later;
    }
}

static void make_notes(struct maker *maker, int voice)
{
    const struct us_tune *tune = maker->tune;
    const struct us_note *notes = voice ? tune->second : tune->notes;
    size_t count = voice ? tune->second_count : tune->note_count, bar = 0;
    for (size_t i = 0; i < count && !maker->failed; i++) {
        struct us_written_note note = {.at = us_written_ticks(notes[i].at), .pitch = notes[i].pitch};
        double until = notes[i].at + notes[i].len;
        int64_t end = us_written_ticks(until);
        if (i + 1 < count && us_written_ticks(notes[i + 1].at) < end) end = us_written_ticks(notes[i + 1].at);
        note.len = end - note.at;
        if (note.len <= 0) continue;
        while (bar + 1 < maker->out->bar_count && maker->out->bars[bar + 1].at <= note.at)
            bar++;
        note.spelling = (int8_t)us_key_spelling(key_at(maker->out, bar), note.pitch);
        if (!voice && tune->spelling && !maker->respell) note.spelling = tune->spelling[i];
        if (!voice) note.flags = flags_of(tune, notes[i].at, until);
        cut_note(maker, voice, note, &bar);
    }
}

static void add_chord(struct maker *maker, int64_t at, struct us_chord chord)
{
    struct us_written *out = maker->out;
    maker->failed = maker->failed ||
                    !us_grow((void **)&out->chords, &out->chord_room, out->chord_count, sizeof *out->chords);
    if (!maker->failed) out->chords[out->chord_count++] = (struct us_written_chord){at, chord};
}

static void make_chords(struct maker *maker)
{
    const struct us_tune *tune = maker->tune;
    const struct us_written_bar *last =
        maker->out->bar_count ? &maker->out->bars[maker->out->bar_count - 1] : NULL;
    int64_t end = last ? last->at + last->len : 0;
    for (size_t i = 0; i < tune->chord_count; i++) {
        const struct us_chord_span *span = &tune->chords[i];
        int64_t until = us_written_ticks(span->at + span->len);
        int64_t next = i + 1 < tune->chord_count ? us_written_ticks(span[1].at) : end;
        add_chord(maker, us_written_ticks(span->at), span->chord);
        if (until < next) add_chord(maker, until, (struct us_chord){US_NO_CHORD, US_CHORD_MAJ});
    }
}

/* What one bar of the played-out page holds. */
struct content {
    const struct us_written_note *notes[US_WRITTEN_VOICES];
    size_t note_count[US_WRITTEN_VOICES];
    const struct us_written_chord *chords;
    size_t chord_count;
};

static struct content content_of(const struct us_written *page, const struct us_written_bar *bar)
{
    struct content content = {0};
    int64_t end = bar->at + bar->len;
    for (int v = 0; v < US_WRITTEN_VOICES; v++) {
        size_t count = page->note_count[v], item = sizeof *page->notes[v];
        size_t i = us_first_from(page->notes[v], count, item, bar->at);
        content.notes[v] = count ? page->notes[v] + i : NULL;
        content.note_count[v] = us_first_from(page->notes[v], count, item, end) - i;
    }
    size_t i = us_first_from(page->chords, page->chord_count, sizeof *page->chords, bar->at);
    content.chords = page->chord_count ? page->chords + i : NULL;
    content.chord_count = us_first_from(page->chords, page->chord_count, sizeof *page->chords, end) - i;
    return content;
}

static bool same_content(const struct content *a, int64_t a_at, const struct content *b, int64_t b_at)
{
    if (a->chord_count != b->chord_count) return false;
    for (size_t i = 0; i < a->chord_count; i++)
        if (a->chords[i].at - a_at != b->chords[i].at - b_at ||
            !us_chord_equal(a->chords[i].chord, b->chords[i].chord))
            return false;
    for (int v = 0; v < US_WRITTEN_VOICES; v++) {
        if (a->note_count[v] != b->note_count[v]) return false;
        for (size_t i = 0; i < a->note_count[v]; i++) {
            const struct us_written_note *x = &a->notes[v][i], *y = &b->notes[v][i];
            if (x->at - a_at != y->at - b_at || x->len != y->len || x->pitch != y->pitch ||
                x->spelling != y->spelling || x->flags != y->flags)
                return false;
        }
    }
    return true;
}

/* Appends bar `played` of the played-out `page` to the page with repeats. */
static void copy_bar(struct maker *to, const struct us_written *page, size_t played)
{
    const struct us_bar *marks = &to->tune->bars[played];
    struct us_written_bar bar = page->bars[played];
    struct content content = content_of(page, &bar);
    int64_t from = bar.at;
    struct us_written *out = to->out;
    bar.at = out->bar_count ? out->bars[out->bar_count - 1].at + out->bars[out->bar_count - 1].len : 0;
    bar.endings = marks->endings;
    bar.repeat_times = marks->repeat_times;
    bar.repeat_from = marks->repeat_from;
    bar.closes = marks->closes;
    for (int v = 0; v < US_WRITTEN_VOICES; v++)
        for (size_t i = 0; i < content.note_count[v]; i++) {
            struct us_written_note note = content.notes[v][i];
            note.at += bar.at - from;
            add_note(to, v, note);
        }
    for (size_t i = 0; i < content.chord_count; i++)
        add_chord(to, content.chords[i].at + bar.at - from, content.chords[i].chord);
    add_bar(to, bar);
}

/* A note that is held over a jump: programs differ in how they play a tie there. */
static bool tied_over_jump(const struct us_tune *tune, const struct us_written *page, size_t played)
{
    if (played + 1 >= tune->bar_count || tune->bars[played + 1].written == tune->bars[played].written + 1)
        return false;
    struct content content = content_of(page, &page->bars[played]);
    for (int v = 0; v < US_WRITTEN_VOICES; v++)
        if (content.note_count[v] && content.notes[v][content.note_count[v] - 1].flags & US_WRITTEN_TIE)
            return true;
    return false;
}

/* Makes the page with repeats into `out` (empty but for its head); false where it would not play the same. */
static bool fold_repeats(const struct us_tune *tune, const struct us_written *page, struct us_written *out)
{
    struct maker to = {.tune = tune, .out = out};
    if (!tune->bar_count || page->bar_count != tune->bar_count) return false;
    uint32_t *first = malloc(tune->bar_count * sizeof *first);
    size_t written = 0;
    bool same = first != NULL;
    for (size_t i = 0; i < tune->bar_count && same; i++) {
        size_t w = tune->bars[i].written;
        if (w > written) same = false;
        if (w == written) {
            first[written++] = (uint32_t)i;
            copy_bar(&to, page, i);
        } else if (same) {
            struct content a = content_of(page, &page->bars[first[w]]), b = content_of(page, &page->bars[i]);
            same = same_content(&a, page->bars[first[w]].at, &b, page->bars[i].at);
        }
        same = same && !to.failed && !tied_over_jump(tune, page, i);
    }
    uint32_t *order = NULL;
    size_t count = 0;
    same =
        same && us_written_order(out, "", &order, &count, NULL) == US_STATUS_OK && count == tune->bar_count;
    for (size_t i = 0; i < count && same; i++)
        same = order[i] == tune->bars[i].written;
    free(order);
    free(first);
    return same;
}

static void make_head(const struct us_tune *tune, struct us_written *out)
{
    us_written_init(out);
    out->key = tune->key;
    out->metre = tune->metre;
    out->quarters_a_minute = tune->quarters_a_minute;
    us_plain_line(tune->title ? tune->title : "", out->title, sizeof out->title);
    us_plain_line(tune->composer ? tune->composer : "", out->composer, sizeof out->composer);
}

/* On the line of fifths the notes lie around the second place above the signature's.  Where they are spelled
   for a signature twelve places away, six sharps become six flats; other keys are written in their simpler
   spelling. */
static void settle_spelling(struct maker *maker)
{
    const struct us_tune *tune = maker->tune;
    double sum = 0;
    if (!tune->spelling || !tune->note_count) return;
    for (size_t i = 0; i < tune->note_count; i++)
        sum += tune->spelling[i];
    int fifths = us_key_signature(tune->key);
    double off = sum / (double)tune->note_count - (fifths + 2);
    maker->out->flats = fifths == 6 && off < -6;
    maker->respell = !maker->out->flats && fabs(off) > 6;
}

enum us_status us_written_from(const struct us_tune *tune, struct us_written *out, struct us_error *error)
{
    struct maker maker = {.tune = tune, .out = out};
    make_head(tune, out);
    settle_spelling(&maker);
    make_bars(&maker);
    make_notes(&maker, 0);
    make_notes(&maker, 1);
    make_chords(&maker);
    if (maker.failed) {
        us_written_finish(out);
        return us_error_set(error, US_STATUS_BAD_INPUT,
                            "\"%.60s\": its bars do not follow one another; it cannot be written out",
                            tune->title ? tune->title : "");
    }
    struct us_written folded;
    make_head(tune, &folded);
    folded.flats = out->flats;
    if (fold_repeats(tune, out, &folded)) {
        us_written_finish(out);
        *out = folded;
    } else {
        us_written_finish(&folded);
        if (out->bar_count) out->bars[out->bar_count - 1].closes = true;
    }
    return US_STATUS_OK;
}
