/* Recognizing which tune of a songbook is being played, in any key, from its first notes.  Pure, fixed size.
 */
#ifndef UNDERSONG_SONGBOOK_H
#define UNDERSONG_SONGBOOK_H

#include "undersong/score.h"

enum { US_SONGBOOK_MAX = 1024, US_SONG_OPENING = 24 };

/* The first notes of a tune, close together in memory: the whole book is gone through at every note. */
struct us_song_opening {
    uint8_t count, skip; /* notes; how many lie before the first bar line */
    int8_t pitch[US_SONG_OPENING];
    float log_gap[US_SONG_OPENING];
};

/* The tunes; the caller owns both arrays, of `count` each, and the scores. */
struct us_songbook {
    const struct us_score *const *songs;
    const struct us_song_opening *openings;
    size_t count; /* at most US_SONGBOOK_MAX; more are not listened for */
};

/* The opening of a tune, for a songbook. */
void us_song_opening(struct us_song_opening *opening, const struct us_score *score);

enum { US_SONG_STARTS = 3, US_SONG_BAND = 9 };

/* One tune that it still may be.  A tune may be begun on its first note, on its second (or after one note too
   many), or on its first bar line with the pickup left out: each start has its own transposition. */
struct us_song_guess {
    uint16_t song;
    int8_t transposition[US_SONG_STARTS];
    float weight[US_SONG_STARTS][US_SONG_BAND]; /* places around the one that comes next if all goes well */
    float mass;                                 /* of all its weights */
    float sum;
};

struct us_songbook_listener {
    const struct us_songbook *book;
    uint16_t heard, alive;
    float unknown; /* weight of none of them */
    int64_t last_ns, last_gap_ns;
    struct us_song_guess guess[US_SONGBOOK_MAX];
};

/* Listens from the next note on, as the first note of a tune. */
void us_songbook_listen(struct us_songbook_listener *l, const struct us_songbook *book);
void us_songbook_note(struct us_songbook_listener *l, int64_t at_ns, int pitch);
/* The tune it most probably is, -1 where none is left; `probability` (may be NULL) is against all others and
   against a tune that is not in the book. */
int us_songbook_best(const struct us_songbook_listener *l, double *probability);
/* The note of that tune which was played last, as it seems, and the transposition in semitones, 0 to 11
 * upwards. */
int us_songbook_place(const struct us_songbook_listener *l, int *transposition);

#endif
