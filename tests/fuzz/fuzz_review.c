/* Any playing against any tune: every played note is accounted for, and the sums agree. */
#include <string.h>

#include "fuzz.h"
#include "undersong/review.h"

enum { NOTES = 60, PLAYED = 200 };

static void check_aligned(const struct us_played *played, size_t count, const struct us_tune *tune)
{
    void *workspace = malloc(us_align_workspace(count, tune->note_count) + 1);
    struct us_aligned *out = calloc(count + 1, sizeof *out);
    if (!workspace || !out) abort();
    double fit = us_align(played, count, tune, workspace, out);
    FUZZ_CHECK(fit >= 0 && fit <= 1);
    for (size_t i = 0; i < count && tune->note_count; i++) {
        FUZZ_CHECK(out[i].note >= -1 && out[i].note < (int32_t)tune->note_count);
        FUZZ_CHECK(out[i].kind == US_ALIGN_EXTRA || out[i].note >= out[i].missed);
        if (out[i].kind == US_ALIGN_RIGHT)
            FUZZ_CHECK(tune->notes[out[i].note].pitch + out[i].shift == played[i].pitch);
    }
    free(workspace);
    free(out);
}

static void check_sums(const struct us_review *review)
{
    for (size_t t = 0; t < review->take_count; t++) {
        const struct us_take *take = &review->takes[t];
        uint32_t notes = 0, wrong = 0, added = 0, missed = 0, waits = 0;
        FUZZ_CHECK(take->session < review->session_count);
        FUZZ_CHECK(take->right + take->wrong + take->missed == take->notes);
        for (size_t b = 0; b < review->bar_count; b++) {
            const struct us_review_cell *cell = &review->cells[t * review->bar_count + b];
            notes += cell->notes, wrong += cell->wrong, added += cell->added, missed += cell->missed;
            waits += cell->waits;
        }
        FUZZ_CHECK(notes == take->notes);
        FUZZ_CHECK(wrong == take->wrong);
        FUZZ_CHECK(added == take->added);
        FUZZ_CHECK(missed == take->missed);
        FUZZ_CHECK(waits == take->waits);
    }
    for (size_t m = 0; m < review->mark_count; m++) {
        FUZZ_CHECK(review->marks[m].bar < review->bar_count && review->marks[m].take < review->take_count);
        FUZZ_CHECK(review->marks[m].beat >= 1 && review->marks[m].kind < US_REVIEW_MARK_KINDS);
    }
    FUZZ_CHECK(review->advice.text[0] && !strchr(review->advice.text, '\n'));
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    struct us_note notes[NOTES];
    struct us_played played[PLAYED];
    size_t note_count = 0, count = 0;
    double at = 0;
    int64_t now = 0;
    if (size < 4) return 0;
    struct us_tune tune = {.notes = notes, .metre = {(uint8_t)(data[0] % 8), 4}, .title = "x"};
    tune.key = (struct us_key){(int8_t)(data[1] % 13 - 1), (uint8_t)(data[1] / 13 % US_MODES)};
    tune.pickup = data[2] % 9 / 2.0;
    size_t split = 4 + data[3] % NOTES;
    for (size_t i = 4; i + 1 < size && i < split; i += 2, note_count++) {
        double len = (1 + data[i + 1] % 16) / 4.0;
        notes[note_count] = (struct us_note){at, len, (int16_t)(data[i] & 127), 80};
        at += len;
    }
    for (size_t i = split; i + 1 < size && count < PLAYED; i += 2, count++) {
        now += 1 + data[i + 1] * (int64_t)20000000;
        played[count] = (struct us_played){now, now + 100000000, data[i] & 127, 80};
    }
    tune.note_count = note_count;
    struct us_session session = {.name = "x", .played = played, .count = count};
    struct us_review review;
    struct us_error error = {0};
    check_aligned(played, count, &tune);
    FUZZ_CHECK(!us_review_make(&review, &session, 1, data[0] & 128 ? &tune : NULL, &error));
    check_sums(&review);
    us_review_finish(&review);
    FUZZ_CHECK(!us_review_make(&review, &session, 1, &tune, &error));
    check_sums(&review);
    us_review_finish(&review);
    return 0;
}
