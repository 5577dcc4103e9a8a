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

/* The places kept: the one that comes next if all goes well, and those around it. */
enum { US_SONG_BEHIND = 5, US_SONG_BAND = US_SONG_BEHIND + 3, US_SONG_STARTS = 4 };
enum { US_SONG_GUESSES = US_SONGBOOK_MAX * US_SONG_STARTS };

/* One tune that it still may be, begun in one way: on its first note, with an ornament or a wrong note before
   or in place of the first, or on its first bar line with the pickup left out. */
struct us_song_guess {
    uint16_t song;
    int16_t transposition; /* semitones from the tune as written */
    int8_t first;          /* the place of the first note heard, as if all had gone well */
    uint8_t gaps;          /* how many the tempo was learned from */
    float log_quarter_ns;
    float played[US_SONG_BAND]; /* the last note was this place's */
    float added[US_SONG_BAND];  /* and an ornament has come after it */
};

/* A note that is being gone through the book with. */
struct us_song_note {
    bool waits;
    int16_t pitch;
    float log_gap,
        log_two_gaps; /* of nanoseconds, since the note before and the one before that; 0 unknown */
    float narrow_gap, narrow_two_gaps; /* how closely they should fit */
    float added;                       /* how probable it is that it is an ornament */
    float unknown;                     /* what a tune that is not in the book weighs after it */
    float scale, total;                /* keeps the sum of all weights at 1; their sum so far */
    uint16_t place, born; /* the next guess to look at; the songs that were looked at for new ones */
};

struct us_songbook_listener {
    const struct us_songbook *book;
    uint16_t heard, alive;
    float unknown; /* weight of none of them */
    int64_t last_ns, last_gap_ns;
    struct us_song_note note;
    float sum[US_SONGBOOK_MAX], next_sum[US_SONGBOOK_MAX]; /* of each tune's guesses, and as they become */
    struct us_song_guess guess[US_SONG_GUESSES];
};

/* Listens from the next note on, as the first note of a tune. */
void us_songbook_listen(struct us_songbook_listener *l, const struct us_songbook *book);
/* One note; the book is gone through with it at once. */
void us_songbook_note(struct us_songbook_listener *l, int64_t at_ns, int pitch);
/* The same by and by: takes the note in; each call of us_songbook_work() then looks at about `guesses` of the
   guesses, and is true where none is left to look at.  What is asked in between is answered as before the
   note. */
void us_songbook_hear(struct us_songbook_listener *l, int64_t at_ns, int pitch);
bool us_songbook_work(struct us_songbook_listener *l, int guesses);
/* The tune it most probably is, -1 where none is left; `probability` (may be NULL) is against all others and
   against a tune that is not in the book; one that is in it twice counts as one. */
int us_songbook_best(const struct us_songbook_listener *l, double *probability);
/* The note of that tune which was played last, as it seems, and the transposition in semitones, 0 to 11
   upwards; 0, and `transposition` untouched, where it is none of the tunes. */
int us_songbook_place(const struct us_songbook_listener *l, int *transposition);

#endif
