/* A build without terminfo: what happens is printed line by line. */
#include "live_view.h"

#include <string.h>

void live_view_init(struct live_view *v, FILE *out)
{
    memset(v, 0, sizeof *v);
    v->out = out;
}

void live_view_take(struct live_view *v, const struct step_log_row *row)
{
    (void)v, (void)row;
}

void live_view_show(struct live_view *v)
{
    (void)v;
}

void live_view_say(struct live_view *v, const char *line)
{
    (void)v;
    fprintf(stderr, "undersong: %s\n", line);
}

void live_view_leave(struct live_view *v)
{
    (void)v;
}
