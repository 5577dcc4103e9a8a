/* `play` on a terminal: five lines that stay where they are and change with the music. */
#ifndef APP_LIVE_VIEW_H
#define APP_LIVE_VIEW_H

#include "news.h"
#include "step_log.h"

#include <stdio.h>

struct live_view {
    bool on; /* else nothing below does anything */
    FILE *out;
    enum us_syllables syllables;
    char struck[64]; /* what the left hand struck last */
    char news[NEWS_SIZE];
    struct us_snapshot now;
    int width, printed; /* of the screen; lines of this picture so far */
    bool drawn, changed;
    atomic_bool interrupted; /* something else was printed in their place */
};

/* On where `out` is a terminal that can move its cursor up (terminfo). */
void live_view_init(struct live_view *v, FILE *out);
/* Takes a step in; nothing is printed yet. */
void live_view_take(struct live_view *v, const struct step_log_row *row);
/* Prints what has changed, in place; all of it where the terminal has another width now. */
void live_view_show(struct live_view *v);
/* Prints a line on standard error; the view is drawn again below it.  Any thread. */
void live_view_say(struct live_view *v, const char *line);
/* Leaves the last picture standing, with the cursor below it. */
void live_view_leave(struct live_view *v);

#endif
