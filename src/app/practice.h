/* What the kept sessions tell of the keys in which a tune was played: which one comes next. */
#ifndef APP_PRACTICE_H
#define APP_PRACTICE_H

#include "undersong/drill.h"
#include "undersong/next_key.h"
#include "undersong/tune.h"

enum { PRACTICE_WORDS = 240 };

struct practice {
    struct us_key_record records[US_PITCH_CLASSES + US_DRILL_KEYS_MAX];
    size_t count;
    struct us_key home; /* the tune's own key */
    bool known;         /* the tune was played in a kept session */
};

/* Reads the latest kept sessions against the tune, or with NULL against what comes back in them.  What cannot
   be read counts as not played. */
void practice_read(const struct us_tune *tune, struct practice *out);
/* Which key comes next and why, in one line.  Returns `out`. */
char *practice_words(const struct practice *practice, char out[PRACTICE_WORDS]);
/* A drill of the keys that come next, one after the other as each goes well. */
void practice_drill(const struct practice *practice, struct us_drill *drill);

#endif
