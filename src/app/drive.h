/* Driving the companion from a performance: in virtual time, or in real time by the same steps. */
#ifndef APP_DRIVE_H
#define APP_DRIVE_H

#include "performance.h"
#include "undersong/companion.h"

struct drive {
    struct us_companion *companion;
    const struct performance *performance;
    void *context; /* handed to the two functions below */
    /* Called before each step: sleep until `until_ns` after the start; false stops the performance.  NULL:
       virtual time.  Steps are given their nominal times either way, so what comes out is the same. */
    bool (*wait)(void *context, int64_t until_ns);
    /* Called after each step with what it answered. */
    void (*after)(void *context, const struct us_event *event, const struct us_actions *actions);
};

/* Plays the performance to its end, lets the last chord ring for up to four seconds, then releases
 * everything. */
void drive_run(const struct drive *d);

#endif
