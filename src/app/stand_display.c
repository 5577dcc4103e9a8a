/* The screen that the window is on ends (its server is killed, the connection breaks).  Xlib and GDK then end
   the program on the spot; before that, what sounds is released and what was played is kept. */
#include "stand_parts.h"

#include <stdio.h>
#include <string.h>
#include <unistd.h>

#ifdef HAVE_X11
#include <X11/Xlib.h>
#endif

static struct stand *watched; /* neither Xlib nor GLib hands anything on to those who are told */

/* On the main thread, in the middle of anything that draws: no widget is touched. */
static void lost(void)
{
    struct stand *s = watched;
    struct us_error error;
    watched = NULL;
    if (!s) return;
    stand_choices_save(&s->choices);
    fprintf(stderr,
            "undersong: stand: the screen was lost; playing has ended, start it again when there is one\n");
    if (stand_session_end(s, &error)) fprintf(stderr, "undersong: %s\n", error.text);
    _exit(1);
}

#ifdef HAVE_X11
static int on_x_lost(Display *display)
{
    (void)display;
    lost();
    return 0;
}
#endif

/* Wayland has no such call: what GDK writes just before it ends the program is all there is. */
static GLogWriterOutput on_line(GLogLevelFlags level, const GLogField *fields, gsize count, void *user)
{
    static const char *const LAST_WORDS[] = {"Lost connection to Wayland", "Error flushing display",
                                             "Error reading events from display"};
    for (gsize i = 0; i < count; i++) {
        bool text = strcmp(fields[i].key, "MESSAGE") == 0;
        for (size_t w = 0; text && w < G_N_ELEMENTS(LAST_WORDS); w++)
            if (g_str_has_prefix(fields[i].value, LAST_WORDS[w])) lost();
    }
    return g_log_writer_default(level, fields, count, user);
}

void stand_display_watch(struct stand *s)
{
    if (!watched) g_log_set_writer_func(on_line, NULL, NULL);
    watched = s;
#ifdef HAVE_X11
    XSetIOErrorHandler(on_x_lost);
#endif
}

void stand_display_leave(void)
{
    watched = NULL;
}
