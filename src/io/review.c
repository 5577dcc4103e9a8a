#include "undersong/review.h"

#include <stdio.h>
#include <stdlib.h>

#include "repeats.h"
#include "review_parts.h"
#include "undersong/signs.h"
#include "undersong/tune_file.h"

/* A workspace larger than this is no session of a human. */
static const size_t WORKSPACE_MOST = (size_t)1 << 30;

/* How well the session fits the tune; negative without memory. */
static double align_session(const struct us_session *session, const struct us_tune *tune,
                            struct us_aligned **aligned)
{
    size_t size = us_align_workspace(session->count, tune->note_count);
    void *workspace = size < WORKSPACE_MOST ? malloc(size + 1) : NULL;
    *aligned = calloc(session->count + 1, sizeof **aligned);
    double fit = -1;
    if (workspace && *aligned) fit = us_align(session->played, session->count, tune, workspace, *aligned);
    free(workspace);
    return fit;
}

static bool review_against(struct us_review *review, const struct us_session *sessions, size_t count,
                           const struct us_tune *tune)
{
    struct review_work work = {.review = review, .sessions = sessions, .tune = tune};
    review->tune_known = true;
    review->key = us_tune_key(tune);
    review->metre = tune->metre.top ? tune->metre : (struct us_metre){4, 4};
    us_cut_text(tune->title, review->title, sizeof review->title);
    bool good = review_lay_bars(&work);
    for (size_t i = 0; i < count && good; i++) {
        work.session = (uint32_t)i;
        double fit = align_session(&sessions[i], tune, &work.aligned);
        good = fit >= 0;
        if (fit >= US_ALIGN_MAY_FIT) good = review_read_takes(&work) && review_measure(&work);
        free(work.aligned);
        work.aligned = NULL;
    }
    free(work.places);
    return good && review_sum_up(review);
}

/* Nobody named the tune: it may be known by its coming back. */
static bool review_by_repeats(struct us_review *review, const struct us_session *sessions, size_t count)
{
    struct us_tune_file file;
    struct us_error error;
    uint32_t times;
    if (us_tune_of_repeats(sessions, count, &file, &times, &error)) return false;
    if (!times) return true;
    review->from_repeats = times;
    bool good = review_against(review, sessions, count, &file.tune);
    us_tune_file_finish(&file);
    if (!review->take_count) {
        review->tune_known = false;
        review->from_repeats = 0;
    }
    return good;
}

enum us_status us_review_make(struct us_review *review, const struct us_session *sessions, size_t count,
                              const struct us_tune *tune, struct us_error *error)
{
    *review = (struct us_review){.key = {US_NO_KEY, US_MODE_MAJOR}};
    review->sessions = calloc(count + 1, sizeof *review->sessions);
    bool good = review->sessions != NULL;
    for (size_t i = 0; i < count && good; i++)
        good = review_plain_session(review, &sessions[i]);
    if (good && tune && tune->note_count) good = review_against(review, sessions, count, tune);
    if (good && !tune) good = review_by_repeats(review, sessions, count);
    if (good) {
        review_advise(review);
        return US_STATUS_OK;
    }
    us_review_finish(review);
    return us_error_set(error, US_STATUS_NO_MEMORY,
                        "the sessions do not fit into memory; give fewer or shorter ones");
}

void us_review_finish(struct us_review *review)
{
    free(review->sessions);
    free(review->takes);
    free(review->bars);
    free(review->cells);
    free(review->marks);
    free(review->keys);
    *review = (struct us_review){0};
}

double us_review_fit(const struct us_session *sessions, size_t count, const struct us_tune *tune)
{
    double notes = 0;
    for (size_t i = 0; i < count; i++) {
        struct us_aligned *aligned;
        double fit = align_session(&sessions[i], tune, &aligned);
        free(aligned);
        if (fit < 0) return fit;
        if (fit >= US_ALIGN_FITS) notes += fit * (double)sessions[i].count;
    }
    return notes;
}
