/* The review against a performer made for it, whose mistakes are known because they were drawn from a seed:
   rates of what is found and of what is found wrongly.  The performer's habits are invented. */
#include "support.h"

#include "undersong/abc.h"
#include "undersong/review.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static const char *const TUNES[] = {
    "X:1\nT:The Lantern Boat\nM:3/4\nL:1/4\nK:G\nD|G G/A/ B|B>A G|A F D|G2 D|G B d|c2 e/c/|B>A F|G2:|\n"
    "|:B|d>c B|c A G|F/G/A/B/ D|A2 D|G B d|e c A|B A F|G2:|\n",
    "X:1\nT:Round the Windmill\nM:6/8\nL:1/8\nK:Em\nB|E2E GFE|B2B BAG|A2A AGF|F2F ^D2B|E2E GFE|B2B e2B|A2G "
    "F2^D|E3 E2:|\n"
    "B|e2e edB|d2d d2B|c2c cBA|B3 B2B|e2e edB|g2f e2B|A2G F2^D|E3 E2|]\n",
    "X:1\nT:Stepping Stones\nM:4/4\nL:1/4\nK:C\nC D E F|G2 E2|F E D E|C4|E F G A|c2 G2|A G F E|D4|\n"
    "C C G G|A A G2|F F E E|D2 G2|C D E F|G2 E2|F E D B,|C4|]\n",
};
enum { TUNE_COUNT = sizeof TUNES / sizeof *TUNES, MOST_NOTES = 4000, MOST_TRUTHS = 2000 };

struct truth {
    enum us_review_mark_kind kind;
    int64_t at_ns;
    int32_t note;
    double seconds;
};

struct performer {
    uint64_t state;
    struct us_played played[MOST_NOTES];
    size_t count;
    struct truth truths[MOST_TRUTHS];
    size_t truth_count;
    double ns, quarter_ns;
};

static double uniform(struct performer *p)
{
    p->state = p->state * 6364136223846793005u + 1442695040888963407u;
    return (double)(p->state >> 33) / 2147483648.0;
}

static double normal(struct performer *p)
{
    double sum = -6;
    for (int i = 0; i < 12; i++)
        sum += uniform(p);
    return sum;
}

static void strike(struct performer *p, int pitch, double ns)
{
    int64_t at = (int64_t)(p->ns + 20e6 * fmax(-2, fmin(2, normal(p))));
    if (p->count && at <= p->played[p->count - 1].at_ns) at = p->played[p->count - 1].at_ns + 1000000;
    p->played[p->count++] = (struct us_played){at, at + (int64_t)(0.9 * ns), (uint8_t)pitch, 80};
}

static void note_truth(struct performer *p, enum us_review_mark_kind kind, int32_t note, double seconds)
{
    int64_t at = p->count ? p->played[p->count - 1].at_ns : 0;
    p->truths[p->truth_count++] = (struct truth){kind, at, note, seconds};
}

static int wrong_pitch(struct performer *p, int pitch)
{
    static const int OFF[] = {-4, -3, -2, -2, -1, -1, 1, 1, 2, 2, 3, 4};
    return pitch + OFF[(int)(uniform(p) * 12)];
}

/* One note of the tune, with whatever befalls it.  Chances are for each note. */
static void play_note(struct performer *p, const struct us_tune *tune, size_t j, int shift, bool calm)
{
    const struct us_note *note = &tune->notes[j];
    double gap = j + 1 < tune->note_count ? tune->notes[j + 1].at - note->at : note->len;
    double chance = calm ? 1 : uniform(p), waited = 0;
    int pitch = note->pitch + shift;
    if (chance < 0.05) waited = 0.55 + 1.2 * uniform(p), p->ns += waited * 1e9;
    if (chance > 0.05 && chance < 0.07 && j + 1 < tune->note_count) {
        note_truth(p, US_REVIEW_MISSED, (int32_t)j, 0);
        p->ns += gap * p->quarter_ns;
        return;
    }
    if (chance > 0.07 && chance < 0.09) { /* a slip, put right at once */
        strike(p, wrong_pitch(p, pitch), 200e6);
        note_truth(p, US_REVIEW_WRONG, (int32_t)j, 0);
        p->ns += 300e6;
    }
    bool wrong = chance > 0.09 && chance < 0.13;
    strike(p, wrong ? wrong_pitch(p, pitch) : pitch, gap * p->quarter_ns);
    if (wrong) note_truth(p, US_REVIEW_WRONG, (int32_t)j, 0);
    if (waited > 0) note_truth(p, US_REVIEW_WAITED, (int32_t)j, waited);
    p->ns += gap * p->quarter_ns;
    p->quarter_ns *= 1 + 0.01 * normal(p);
}

/* Four times through, in different keys; now and then back to the bar's beginning, or from the start again.
 */
static void perform(struct performer *p, const struct us_tune *tune, uint64_t seed, bool calm)
{
    memset(p, 0, sizeof *p);
    p->state = seed * 2654435761u + 11;
    for (int take = 0; take < 4; take++) {
        int shift = (int)(uniform(p) * 11) - 5;
        p->quarter_ns = (0.5 + 0.4 * uniform(p)) * 1e9;
        for (size_t j = 0; j < tune->note_count; j++) {
            play_note(p, tune, j, shift, calm || j == 0);
            if (!calm && j > 6 && j + 8 < tune->note_count && uniform(p) < 0.01) {
                p->ns += 0.8e9;
                note_truth(p, US_REVIEW_WENT_BACK, (int32_t)j, 0.8);
                j = j - 6 + (size_t)(uniform(p) * 3);
            }
        }
        p->ns += 2e9 + 3e9 * uniform(p);
    }
}

static struct us_tune_file read_tune(size_t i)
{
    struct us_tune_file file;
    struct us_error error = {0};
    ck_assert_msg(!us_abc_read(TUNES[i], strlen(TUNES[i]), "t.abc", 0, &file, &error), "%s", error.text);
    return file;
}

static struct us_review make(const struct performer *p, const struct us_tune *tune)
{
    struct us_session session = {.name = "s.mid", .played = (struct us_played *)p->played, .count = p->count};
    struct us_review review;
    struct us_error error = {0};
    ck_assert_msg(!us_review_make(&review, &session, 1, tune, &error), "%s", error.text);
    return review;
}

struct rates {
    int truths, found, marks, right_marks;
};

/* Of two notes of one pitch on end nobody can say which was left out. */
static bool same_missed(const struct us_tune *tune, int32_t a, int32_t b)
{
    return a == b || (abs(a - b) == 1 && tune->notes[a].pitch == tune->notes[b].pitch);
}

static bool is_same(const struct us_tune *tune, const struct truth *truth, const struct us_review_mark *mark)
{
    double off = fabs((double)(truth->at_ns - mark->at_ns));
    if (truth->kind != (enum us_review_mark_kind)mark->kind) return false;
    if (mark->kind == US_REVIEW_WENT_BACK) /* with the next note after it was noted */
        return mark->at_ns > truth->at_ns && off < 4e9;
    return mark->kind == US_REVIEW_MISSED ? off < 4e9 && same_missed(tune, truth->note, mark->note)
                                          : off < 0.1e9;
}

/* The pause before the player goes back is a pause, though none that was drawn. */
static bool is_thinking(const struct performer *p, const struct us_review_mark *mark)
{
    for (size_t t = 0; t < p->truth_count; t++) {
        double after = (double)(mark->at_ns - p->truths[t].at_ns);
        if (p->truths[t].kind == US_REVIEW_WENT_BACK && after > 0 && after < 3e9)
            return mark->kind == US_REVIEW_WAITED;
    }
    return false;
}

static void compare(const struct performer *p, const struct us_tune *tune, const struct us_review *review,
                    enum us_review_mark_kind kind, struct rates *rates)
{
    bool used[MOST_TRUTHS] = {false};
    for (size_t m = 0; m < review->mark_count; m++) {
        const struct us_review_mark *mark = &review->marks[m];
        size_t t = 0;
        if (mark->kind != kind) continue;
        while (t < p->truth_count && (used[t] || !is_same(tune, &p->truths[t], mark)))
            t++;
        bool known = t < p->truth_count;
        if (known) used[t] = true;
        if (!known && is_thinking(p, mark)) continue;
        rates->marks++;
        rates->right_marks += known;
    }
    for (size_t t = 0; t < p->truth_count; t++) {
        rates->truths += p->truths[t].kind == kind;
        rates->found += p->truths[t].kind == kind && used[t];
    }
}

START_TEST(review_finds_known_mistakes)
{
    static struct performer p;
    struct rates wrong = {0}, waited = {0}, missed = {0}, back = {0};
    for (size_t i = 0; i < TUNE_COUNT; i++) {
        struct us_tune_file file = read_tune(i);
        for (uint64_t seed = 1; seed <= 12; seed++) {
            perform(&p, &file.tune, seed, false);
            struct us_review review = make(&p, &file.tune);
            compare(&p, &file.tune, &review, US_REVIEW_WRONG, &wrong);
            compare(&p, &file.tune, &review, US_REVIEW_WAITED, &waited);
            compare(&p, &file.tune, &review, US_REVIEW_MISSED, &missed);
            compare(&p, &file.tune, &review, US_REVIEW_WENT_BACK, &back);
            us_review_finish(&review);
        }
        us_tune_file_finish(&file);
    }
    fprintf(
        stderr,
        "# wrong %d of %d found, %d of %d marks false; waits %d of %d, %d of %d; missed %d of %d, %d of %d\n",
        wrong.found, wrong.truths, wrong.marks - wrong.right_marks, wrong.marks, waited.found, waited.truths,
        waited.marks - waited.right_marks, waited.marks, missed.found, missed.truths,
        missed.marks - missed.right_marks, missed.marks);
    fprintf(stderr, "# went back %d of %d found, %d of %d marks false\n", back.found, back.truths,
            back.marks - back.right_marks, back.marks);
    ck_assert_int_gt(wrong.truths, 300);
    ck_assert_int_gt(waited.truths, 300);
    ck_assert(wrong.found >= 0.95 * wrong.truths && wrong.marks - wrong.right_marks <= 0.05 * wrong.marks);
    ck_assert(waited.found >= 0.90 * waited.truths &&
              waited.marks - waited.right_marks <= 0.05 * waited.marks);
    ck_assert(missed.found >= 0.90 * missed.truths &&
              missed.marks - missed.right_marks <= 0.05 * missed.marks);
    ck_assert(back.found >= 0.8 * back.truths && back.marks - back.right_marks <= 0.1 * back.marks);
}
END_TEST

/* Nobody says which tune it was: four times through in different keys tell. */
START_TEST(review_by_repeats)
{
    static struct performer p;
    struct rates wrong = {0}, waited = {0};
    int known = 0, bars = 0, played = 0;
    for (size_t i = 0; i < TUNE_COUNT; i++) {
        struct us_tune_file file = read_tune(i);
        for (uint64_t seed = 1; seed <= 4; seed++, played++) {
            perform(&p, &file.tune, seed, false);
            struct us_review review = make(&p, NULL);
            known += review.tune_known && review.from_repeats >= 3;
            bars += abs((int)review.bar_count - (int)file.tune.bar_count) <= 1;
            compare(&p, &file.tune, &review, US_REVIEW_WRONG, &wrong);
            compare(&p, &file.tune, &review, US_REVIEW_WAITED, &waited);
            us_review_finish(&review);
        }
        us_tune_file_finish(&file);
    }
    fprintf(stderr,
            "# %d of %d known, %d with their bars; wrong %d of %d found, %d of %d marks false; waits %d of "
            "%d, %d of %d\n",
            known, played, bars, wrong.found, wrong.truths, wrong.marks - wrong.right_marks, wrong.marks,
            waited.found, waited.truths, waited.marks - waited.right_marks, waited.marks);
    ck_assert(known >= 0.9 * played);
    /* Less than with the tune at hand: where most times through have a slip it is the tune. */
    ck_assert(wrong.found >= 0.75 * wrong.truths && wrong.marks - wrong.right_marks <= 0.15 * wrong.marks);
    ck_assert(waited.found >= 0.8 * waited.truths && waited.marks - waited.right_marks <= 0.2 * waited.marks);
}
END_TEST

/* Every time through the player leaves the keyboard for hours at the same note: that is no note of hours. */
START_TEST(review_of_long_absences)
{
    static const uint8_t tune[] = {60, 64, 67, 65, 62, 60, 59, 62, 65, 69,
                                   67, 64, 60, 62, 60, 72, 71, 69, 67};
    enum { LEN = sizeof tune, TIMES = 4 };
    struct us_played played[TIMES * LEN];
    int64_t now = 0;
    for (size_t i = 0; i < TIMES * LEN; i++) {
        played[i] = (struct us_played){now, now + 400000000, tune[i % LEN], 80};
        now += i % LEN == 7 ? 10000 * INT64_C(1000000000) : 500000000;
    }
    struct us_session session = {.name = "x", .played = played, .count = TIMES * LEN};
    struct us_review review;
    struct us_error error;
    ck_assert(!us_review_make(&review, &session, 1, NULL, &error));
    ck_assert_uint_ge(review.from_repeats, 2);
    ck_assert_uint_le(review.bar_count, TIMES * LEN);
    us_review_finish(&review);
}
END_TEST

/* Going back to a bar line is likelier than two added notes, also where the tune's pickup is not known. */
static void bar_lines_without_a_pickup(void)
{
    static const int STEPS[] = {0, 4, 7, 11, 2, 9, 5, 0, 12, 3, 8, 1, 10, 6, 13, 2};
    struct us_note notes[16];
    struct us_played played[10];
    struct us_aligned aligned[10];
    struct us_tune tune = {.notes = notes, .note_count = 16, .metre = {4, 4}};
    for (int i = 0; i < 16; i++)
        notes[i] = (struct us_note){i, 1, (int16_t)(60 + STEPS[i]), 80};
    for (int i = 0; i < 10; i++) /* two bars, and two notes of the second one again */
        played[i] = (struct us_played){i * INT64_C(500000000), i * INT64_C(500000000) + 400000000,
                                       (uint8_t)notes[i < 8 ? i : i - 4].pitch, 80};
    void *workspace = malloc(us_align_workspace(10, 16));
    for (int pickup = -1; pickup <= 0; pickup++) {
        tune.pickup = pickup;
        us_align(played, 10, &tune, workspace, aligned);
        ck_assert_msg(aligned[8].begins && aligned[8].note == 4, "pickup %d: note %d", pickup,
                      aligned[8].note);
    }
    free(workspace);
}

/* Without mistakes nothing is found, every key is named, and the next one is a new one. */
START_TEST(review_of_calm_playing)
{
    static struct performer p;
    for (size_t i = 0; i < TUNE_COUNT; i++) {
        struct us_tune_file file = read_tune(i);
        perform(&p, &file.tune, 5, true);
        struct us_review review = make(&p, &file.tune);
        ck_assert_uint_eq(review.take_count, 4);
        ck_assert_uint_eq(review.mark_count, 0);
        for (size_t t = 0; t < review.take_count; t++) {
            ck_assert(review.takes[t].whole);
            ck_assert_uint_eq(review.takes[t].right, file.tune.note_count);
            ck_assert(review.takes[t].tempo > 40 && review.takes[t].tempo < 140);
            ck_assert(review.takes[t].uneven < 0.12);
            struct us_key key = {(int8_t)us_pitch_class(file.tune.key.tonic + review.takes[t].shift),
                                 file.tune.key.mode};
            ck_assert(us_key_equal(review.takes[t].key, key));
        }
        ck_assert_int_ne(review.advice.key.tonic, US_NO_KEY);
        ck_assert_ptr_nonnull(strstr(review.advice.text, "Reason"));
        us_review_finish(&review);
        us_tune_file_finish(&file);
    }
}
END_TEST

/* Played by hand: a skip as a step, an octave, a sharp forgotten, a pause; each with its bar and beat. */
START_TEST(review_says_what_happened)
{
    static const char SCALE[] = "X:1\nT:t\nM:4/4\nL:1/4\nK:G\nG A B c|d c B A|G B d G|F G A F|G4|]\n";
    static const uint8_t PLAYED[] = {67, 69, 71, 72, 74, 72, 71, 69, 67, 69, 74, 55, 65, 67, 69, 66, 67};
    struct us_tune_file file;
    struct us_error error = {0};
    ck_assert(!us_abc_read(SCALE, strlen(SCALE), "t.abc", 0, &file, &error));
    static struct performer p;
    p.count = 0;
    for (size_t i = 0; i < sizeof PLAYED; i++) {
        int64_t at = (int64_t)(i + (i >= 6)) * 600000000;
        p.played[p.count++] = (struct us_played){at, at + 500000000, PLAYED[i], 80};
    }
    struct us_review review = make(&p, &file.tune);
    static const struct {
        enum us_review_mark_kind kind;
        enum us_review_mark_cause cause;
        int bar;
        double beat;
    } WANT[] = {
        {US_REVIEW_WAITED, US_CAUSE_NONE, 2, 3},
        {US_REVIEW_WRONG, US_CAUSE_SKIP_AS_STEP, 3, 2},
        {US_REVIEW_WRONG, US_CAUSE_OCTAVE, 3, 4},
        {US_REVIEW_WRONG, US_CAUSE_SIGN_FORGOTTEN, 4, 1},
    };
    ck_assert_uint_eq(review.mark_count, sizeof WANT / sizeof *WANT);
    for (size_t i = 0; i < review.mark_count; i++) {
        ck_assert_int_eq(review.marks[i].kind, WANT[i].kind);
        ck_assert_int_eq(review.marks[i].cause, WANT[i].cause);
        ck_assert_int_eq(review.bars[review.marks[i].bar].number, WANT[i].bar);
        ck_assert_double_eq_tol(review.marks[i].beat, WANT[i].beat, 1e-9);
    }
    ck_assert_double_eq_tol(review.marks[0].seconds, 0.6, 0.05);
    ck_assert_int_eq(review.advice.from_bar, 2);
    ck_assert_int_eq(review.advice.to_bar, 3);
    us_review_finish(&review);
    us_tune_file_finish(&file);
}
END_TEST

/* Begun again in another key while the last key is still down: each note counts in its own time through. */
START_TEST(review_of_takes_that_overlap)
{
    static const int UP[] = {0, 5, -2};
    struct us_tune_file file = read_tune(0);
    static struct performer p;
    int64_t now = 0;
    p.count = 0;
    for (size_t take = 0; take < 3; take++)
        for (size_t i = 0; i < file.tune.note_count; i++) {
            const struct us_note *note = &file.tune.notes[i];
            int64_t length = (int64_t)(note->len * 6e8);
            int64_t held = i + 1 < file.tune.note_count ? length / 2 : length * 5 / 4;
            p.played[p.count++] = (struct us_played){now, now + held, (uint8_t)(note->pitch + UP[take]), 80};
            now += length;
        }
    struct us_review review = make(&p, &file.tune);
    ck_assert_uint_eq(review.take_count, 3);
    for (size_t t = 0; t < 3; t++) {
        uint32_t notes = 0;
        for (size_t b = 0; b < review.bar_count; b++)
            notes += review.cells[t * review.bar_count + b].notes;
        ck_assert_uint_eq(notes, file.tune.note_count);
        ck_assert_uint_eq(review.takes[t].right, file.tune.note_count);
    }
    us_review_finish(&review);
    us_tune_file_finish(&file);
}
END_TEST

/* Another tune is not taken for this one, and without a tune only what can be known is told. */
START_TEST(review_knows_what_it_does_not_know)
{
    static struct performer p;
    struct us_tune_file one = read_tune(0), other = read_tune(2);
    perform(&p, &one.tune, 3, false);
    struct us_session session = {.name = "s.mid", .played = p.played, .count = p.count};
    ck_assert_double_gt(us_review_fit(&session, 1, &one.tune), 0.6 * (double)p.count);
    ck_assert_double_eq(us_review_fit(&session, 1, &other.tune), 0);
    struct us_review review;
    struct us_error error = {0};
    for (size_t i = 0; i < p.count; i++) /* nothing comes back in this one */
        p.played[i].pitch = (uint8_t)(40 + (p.played[i].pitch * 7 + i * i * 5 + i * i * i) % 47);
    ck_assert(!us_review_make(&review, &session, 1, NULL, &error));
    ck_assert(!review.tune_known && review.take_count == 0 && review.session_count == 1);
    ck_assert_uint_eq(review.sessions[0].played, p.count);
    ck_assert_ptr_nonnull(strstr(review.advice.text, "--tune"));
    us_review_finish(&review);
    ck_assert(!us_review_make(&review, NULL, 0, &one.tune, &error));
    us_review_finish(&review);
    us_tune_file_finish(&one);
    us_tune_file_finish(&other);
    bar_lines_without_a_pickup();
}
END_TEST

START_TEST(review_next_key)
{
    static const struct us_key G = {7, US_MODE_MAJOR}, C = {0, US_MODE_MAJOR}, D = {2, US_MODE_MAJOR};
    enum us_next_reason reason;
    struct us_key_record records[12] = {{.key = G, .times = 3, .notes = 100, .right = 99, .waits = 1}};
    ck_assert(us_key_equal(us_next_key(NULL, 0, G, &reason), G) && reason == US_NEXT_FIRST);
    ck_assert(us_key_equal(us_next_key(records, 1, G, &reason), D) && reason == US_NEXT_NEW);
    records[1] = (struct us_key_record){.key = D, .times = 1, .notes = 40, .right = 39, .waits = 0};
    ck_assert(us_key_equal(us_next_key(records, 2, G, &reason), C) && reason == US_NEXT_NEW);
    records[2] = (struct us_key_record){.key = C, .times = 1, .notes = 40, .right = 36, .waits = 3};
    ck_assert(us_key_equal(us_next_key(records, 3, G, &reason), C) && reason == US_NEXT_AGAIN);
    for (int i = 0; i < 12; i++)
        records[i] = (struct us_key_record){{(int8_t)i, US_MODE_MAJOR}, i == 4 ? 1 : 3, 50, 50, 0};
    ck_assert(us_next_key(records, 12, G, &reason).tonic == 4 && reason == US_NEXT_ROUND);
    ck_assert_double_eq_tol(us_key_record_score(&records[0]), 1, 1e-9);
}
END_TEST

int main(void)
{
    const TTest *const TESTS[] = {review_finds_known_mistakes,  review_by_repeats,
                                  review_of_long_absences,      review_of_calm_playing,
                                  review_says_what_happened,    review_knows_what_it_does_not_know,
                                  review_of_takes_that_overlap, review_next_key};
    return RUN_TESTS("review", TESTS);
}
