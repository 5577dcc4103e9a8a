/* Shared by the files that put an explanation into words. */
#ifndef UNDERSONG_EXPLAIN_PARTS_H
#define UNDERSONG_EXPLAIN_PARTS_H

#include "explain_notes.h"

enum { US_NUMERAL_SIZE = 16 };

struct telling {
    const struct us_explain *e;
    struct heard heard;
    struct us_reason *out;
    double from;
    enum us_role role, before, after;
    char name[US_NUMERAL_SIZE]; /* of the chord that is explained */
    int clauses;
    bool likelier; /* than each alternative */
};

/* One more clause, with `cause`; beyond a few only the cause is kept. */
__attribute__((format(printf, 3, 4))) void us_tell(struct telling *t, uint32_t cause, const char *format,
                                                   ...);
/* The numeral of a primary triad. */
const char *us_tell_numeral(const struct telling *t, enum us_role role, char *out);
/* Whether the chord that is explained is a primary triad itself, not one that stands in for it. */
bool us_tells_primary(const struct telling *t);
/* Which steps the chord that was taken holds, who else holds them, and why this one. */
void us_tell_steps(struct telling *t);
/* The same of another chord that was thought of; `taken` is the one that was taken. */
void us_tell_what_it_holds(struct telling *t, struct us_chord taken);

#endif
