/* A tune that nobody wrote down, out of what was played again and again. */
#ifndef REPEATS_H
#define REPEATS_H

#include "undersong/review.h"
#include "undersong/tune_file.h"

/* Looks for what comes back in the sessions, in any key and with mistakes, and makes a tune of what most of
   the times through agree on.  `*times` is how often it came, 0 where nothing comes back; then there is
   nothing to finish.  US_STATUS_NO_MEMORY. */
US_WARN_UNUSED enum us_status us_tune_of_repeats(const struct us_session *sessions, size_t count,
                                                 struct us_tune_file *out, uint32_t *times,
                                                 struct us_error *error);

/* One time through as it may be the tune: `count` notes of the session from `first` on. */
struct repeat_piece {
    const struct us_session *session;
    size_t first, count;
    double worth; /* notes of the sessions that it explains, less what it costs itself */
};
enum { REPEAT_PIECES = 6 };
struct repeat_pieces {
    struct repeat_piece list[REPEAT_PIECES]; /* the worthiest first */
    size_t count;
};
/* The pieces that explain most of the sessions.  False when memory ends. */
bool repeats_find(const struct us_session *sessions, size_t count, struct repeat_pieces *best);
/* What a tune of these notes explains, less what it costs; 0 where it does not come again, negative without
   memory. */
double repeats_worth(const struct us_session *sessions, size_t count, const struct us_note *notes,
                     size_t note_count);
/* A note of a tune lasts so long at most, in quarters: a longer time is a wait. */
double repeats_note_length(double quarters);
/* The piece as a tune of its own: notes in quarters of its middle tempo.  NULL without memory. */
struct us_note *repeats_notes(const struct repeat_piece *piece);
/* Makes `*notes` what the times through agree on, their lengths the middle ones; `*seconds` is how long a
   quarter lasts, `*times` how many times through there were.  False when memory ends. */
bool repeats_agree(const struct us_session *sessions, size_t count, struct us_note **notes,
                   size_t *note_count, double *seconds, uint32_t *times);

#endif
