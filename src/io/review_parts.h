/* Shared by the files that review sessions. */
#ifndef REVIEW_PARTS_H
#define REVIEW_PARTS_H

#include "undersong/review.h"

/* Where each note of the tune stands on the page. */
struct review_place {
    uint32_t bar; /* index into review->bars */
    double beat;
};

struct review_work {
    struct us_review *review;
    const struct us_session *sessions;
    const struct us_tune *tune;
    struct review_place *places; /* for each note of the tune */
    struct us_aligned *aligned;  /* of the session being read */
    uint32_t session;
};

bool review_lay_bars(struct review_work *work);
/* Reads one aligned session into takes and marks. */
bool review_read_takes(struct review_work *work);
/* Cells, bars, takes' tempo and evenness; after the takes of the session are known. */
bool review_measure(struct review_work *work);
bool review_add_mark(struct us_review *review, struct us_review_mark mark);
enum us_review_mark_cause review_cause(const struct us_tune *tune, struct us_key key, int32_t note, int shift,
                                       int played);
bool review_sum_up(struct us_review *review);
void review_advise(struct us_review *review);
/* A session by itself, where no tune is known. */
bool review_plain_session(struct us_review *review, const struct us_session *session);

#endif
