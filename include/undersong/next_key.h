/* Which key to practise next, from how the keys went so far.  Pure; any thread. */
#ifndef UNDERSONG_NEXT_KEY_H
#define UNDERSONG_NEXT_KEY_H

#include "undersong/key.h"

#include <stddef.h>

/* How one key went. */
struct us_key_record {
    struct us_key key;
    uint32_t times; /* times through the tune */
    uint32_t notes; /* of the tune, met so far */
    uint32_t right; /* of them, at the first try */
    uint32_t waits; /* pauses of more than about half a second */
};

enum us_next_reason {
    US_NEXT_FIRST, /* nothing was practised yet: the tune's own key */
    US_NEXT_AGAIN, /* this key went worst and is not safe yet */
    US_NEXT_NEW,   /* what was practised is safe: a neighbour on the circle of fifths */
    US_NEXT_ROUND  /* every key is safe: the one least played */
};

/* The share of notes that were right and not waited for, 0 to 1. */
double us_key_record_score(const struct us_key_record *record);
/* `home` is the tune's own key.  A key is safe from a score of 0.92 on (chosen by us, no source). `reason`
   may be NULL. */
struct us_key us_next_key(const struct us_key_record *records, size_t count, struct us_key home,
                          enum us_next_reason *reason);
/* One sentence for the player, with the reason.  Returns `out`. */
char *us_next_key_words(struct us_key next, enum us_next_reason reason, char *out, size_t size);

#endif
