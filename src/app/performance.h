/* A performer played from a file: the events of a melody, in time. */
#ifndef APP_PERFORMANCE_H
#define APP_PERFORMANCE_H

#include "undersong/input.h"
#include "undersong/status.h"

struct performance {
    struct us_event *events; /* by time, the first note not before 0 */
    size_t count;
};

/* Reads FILE.mid as it was performed (the first channel that plays notes unless `input` names one, with its
   pedal and the switches of `input`), or any file that holds a tune as a steady player would play it, at its
   own tempo or 96 quarters a minute.  `input` may be NULL. */
enum us_status performance_load(const char *path, const struct us_input *input, struct performance *out,
                                struct us_error *error) US_WARN_UNUSED;
void performance_finish(struct performance *p);

#endif
