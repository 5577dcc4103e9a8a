/* From the live thread to whoever prints: what was played and what was answered, without waiting.  One
   writer, one reader; a full log drops. */
#ifndef APP_STEP_LOG_H
#define APP_STEP_LOG_H

#include "undersong/companion.h"

#include <stdatomic.h>

enum { STEP_LOG_ROWS = 256, STEP_LOG_TOLD = 12 };
struct step_log_row {
    struct us_event event;
    struct us_snapshot now;
    uint32_t count;
    struct us_action told[STEP_LOG_TOLD]; /* the notes that the left hand struck, and news */
};
struct step_log {
    struct step_log_row rows[STEP_LOG_ROWS];
    atomic_uint head, tail;
};

/* Live thread: keeps the step where the player played, the left hand struck or there is news. */
void step_log_put(struct step_log *log, const struct us_companion *companion, const struct us_event *event,
                  const struct us_actions *actions);
/* Reader: false where there is nothing. */
bool step_log_take(struct step_log *log, struct step_log_row *row);

#endif
