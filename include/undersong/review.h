/* What kept sessions show, held against the tune that was practised: wrong and missing notes, pauses, tempo
   and evenness bar by bar, keys, and what to practise next.  Not for the realtime thread. */
#ifndef UNDERSONG_REVIEW_H
#define UNDERSONG_REVIEW_H

#include "undersong/align.h"
#include "undersong/next_key.h"
#include "undersong/status.h"
#include "undersong/tune.h"

/* The melody of a kept session: a Standard MIDI File as the recorder and --keep write it. */
struct us_session {
    char name[256]; /* the file's name without its folders */
    struct us_played *played;
    size_t count;
};
/* A file without melody notes is an empty session.  US_STATUS_BAD_INPUT, NOT_FOUND or IO as for any MIDI
 * file. */
enum us_status us_session_load(const char *path, struct us_session *session,
                               struct us_error *error) US_WARN_UNUSED;
void us_session_finish(struct us_session *session);

enum us_review_mark_kind {
    US_REVIEW_WRONG,     /* another key than the tune's */
    US_REVIEW_ADDED,     /* a note that the tune has not */
    US_REVIEW_MISSED,    /* a note of the tune was left out */
    US_REVIEW_WAITED,    /* a pause before the note */
    US_REVIEW_WENT_BACK, /* went back to this note, in the middle of the tune */
    US_REVIEW_MARK_KINDS
};
enum us_review_mark_cause {
    US_CAUSE_NONE,
    US_CAUSE_SKIP_AS_STEP,
    US_CAUSE_STEP_AS_SKIP,
    US_CAUSE_SIGN_FORGOTTEN, /* the white key beside the black one that the key asks for, or the other way */
    US_CAUSE_OCTAVE,
    US_CAUSE_TOO_HIGH,
    US_CAUSE_TOO_LOW,
    US_CAUSES
};

struct us_review_mark {
    uint8_t kind;   /* enum us_review_mark_kind */
    uint8_t cause;  /* enum us_review_mark_cause */
    bool corrected; /* put right at once */
    uint32_t take;
    uint32_t bar;   /* index into bars */
    double beat;    /* in the bar, 1 the first */
    int32_t note;   /* of the tune */
    int64_t at_ns;  /* in the session */
    double seconds; /* of waiting */
    int16_t wanted; /* pitch in the key played */
    int16_t played; /* -1 for a missed note */
};

/* A bar of the page; where the tune repeats it, all times through count here. */
struct us_review_bar {
    int32_t number; /* as printed; 0 a pickup, and -1 the second half of a divided bar */
    double at;      /* quarters from the start of the page */
    double len;
    uint32_t times, notes, wrong, added, missed, waits;
    double waited_s;
    double tempo;  /* quarters a minute, middle of all times; 0: not known */
    double uneven; /* standard deviation of the lengths against the tempo, as a part of them; 0: not known */
};

/* The same for one bar in one take. */
struct us_review_cell {
    uint32_t notes, wrong, added, missed, waits;
    float waited_s, tempo, uneven;
};

/* Once through the tune, or as far as it went, in one key. */
struct us_take {
    uint32_t session;
    int64_t from_ns, until_ns;
    int16_t shift; /* semitones from the tune as written */
    struct us_key key;
    uint32_t notes, right, wrong, added, missed, waits, went_back;
    double tempo, uneven;
    bool whole; /* from the first to the last note */
};

/* One session; without a tune only the first five are known. */
struct us_review_session {
    char name[256];
    double minutes;
    uint32_t played;   /* notes of the melody */
    struct us_key key; /* the one most played */
    uint32_t pauses;   /* without a tune: silences of several beats */
    uint32_t takes, notes, right, wrong, missed, waits;
    double tempo;
    bool known; /* the tune was heard in it */
};

struct us_advice {
    char text[400];           /* one suggestion with its reason */
    int32_t from_bar, to_bar; /* numbers as printed; 0 where it is not about bars */
    struct us_key key;        /* US_NO_KEY where it is not about a key */
};

struct us_review {
    bool tune_known;
    uint32_t from_repeats; /* nobody named the tune: it is what so many times through agree on; else 0 */
    char title[200];
    struct us_key key; /* of the tune as written, or US_NO_KEY */
    struct us_metre metre;
    struct us_review_session *sessions;
    size_t session_count;
    struct us_take *takes;
    size_t take_count;
    struct us_review_bar *bars;
    size_t bar_count;
    struct us_review_cell *cells; /* take_count rows of bar_count */
    struct us_review_mark *marks; /* by take and time */
    size_t mark_count, mark_room;
    struct us_key_record *keys; /* most played first */
    size_t key_count;
    struct us_key next_key; /* to practise next; US_NO_KEY where nothing is known */
    enum us_next_reason next_reason;
    struct us_advice advice;
};

/* Reviews the sessions, in order.  `tune` may be NULL: then what was played again and again is held against
   what most times through agree on, and where nothing comes back only keys, pauses and lengths are told. */
enum us_status us_review_make(struct us_review *review, const struct us_session *sessions, size_t count,
                              const struct us_tune *tune, struct us_error *error) US_WARN_UNUSED;
void us_review_finish(struct us_review *review);

/* How many notes of the sessions belong to times through this tune; for choosing among tunes.  0: it is
   another one. Negative without memory. */
double us_review_fit(const struct us_session *sessions, size_t count, const struct us_tune *tune);

/* "a skip played as a step"; "" for US_CAUSE_NONE. */
const char *us_review_mark_cause_words(enum us_review_mark_cause cause);

#endif
