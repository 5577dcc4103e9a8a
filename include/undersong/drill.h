/* One tune round the keys: which key is asked for, which the tune is played in, and which comes next.  Pure,
   fixed size; one thread at a time. */
#ifndef UNDERSONG_DRILL_H
#define UNDERSONG_DRILL_H

#include "undersong/key.h"

enum { US_DRILL_KEYS_MAX = 24, US_DRILL_OPENING = 9, US_DRILL_NO_SHIFT = 127 };

enum us_drill_news {
    US_DRILL_NOTHING,
    US_DRILL_NEXT,  /* well done in `played`: now in `asked` */
    US_DRILL_AGAIN, /* that was in `played`: once more, in `asked` */
    US_DRILL_DONE   /* round all the keys; it begins again with `asked` */
};

struct us_drill {
    struct us_key keys[US_DRILL_KEYS_MAX];
    uint8_t count, now;
    struct us_key asked, played;       /* as of the last news; `asked` is always keys[now] */
    uint8_t last;                      /* the last news, enum us_drill_news */
    int16_t opening[US_DRILL_OPENING]; /* how the tune begins, as it was played first */
    int16_t recent[US_DRILL_OPENING];  /* the last notes */
    uint8_t opening_count, recent_count;
    struct us_key home;  /* the key of the opening; US_NO_KEY until a run has ended */
    uint32_t notes;      /* in this run */
    int8_t shift;        /* how this run's opening lies above the tune's, where it is the same; else
                            US_DRILL_NO_SHIFT */
    uint32_t tune_notes; /* in the longest run so far: a much shorter one did not reach the end */
};

/* Reads "C,D,Bb,Em": 1 to US_DRILL_KEYS_MAX keys.  False for anything else, with `bad` (may be NULL) at the
 * place. */
bool us_drill_parse(const char *text, struct us_drill *drill, const char **bad);
/* A drill of 1 to US_DRILL_KEYS_MAX keys, in this order. */
void us_drill_of_keys(struct us_drill *drill, const struct us_key *keys, uint8_t count);
/* Another tune, or part of it, is led round the same keys from now on: how the one before began and how long
   it was is forgotten. */
void us_drill_another_tune(struct us_drill *d);
/* One melody note.  Where the tune's opening comes again in the next key the drill goes on without a pause:
   US_DRILL_NEXT or US_DRILL_DONE, with `asked` the key that is being played now. */
enum us_drill_news us_drill_note(struct us_drill *d, int pitch);
/* The run is over: the player has stopped or begun anew; `key` is the key it seems to have been in (where it
   began as the tune did before, that tells better).  A run of less than two thirds of the tune's notes
   changes nothing. */
enum us_drill_news us_drill_run_over(struct us_drill *d, struct us_key key);
/* The key that comes after the one asked for; of a drill that has keys. */
struct us_key us_drill_after(const struct us_drill *d);

#endif
