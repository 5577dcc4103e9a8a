/* Opening a tune, and saving a copy of what was played. */
#include "stand_parts.h"

#include "outputs.h"

#include <gio/gio.h>

static void take_tune(struct stand *s, const char *path)
{
    char *name = g_path_get_basename(path), *line = g_strdup_printf("%s: play it, in any key", name);
    g_strlcpy(s->choices.tune, path, sizeof s->choices.tune);
    *s->choices.phrase = 0;
    s->tune_over = true;
    stand_session_again(s);
    if (stand_tune(s))
        stand_say(s, line);
    else
        *s->choices.tune = 0; /* why was told; it is not tried again */
    g_free(line);
    g_free(name);
}

void stand_open_tune(struct stand *s)
{
    GtkFileFilter *tunes = gtk_file_filter_new();
    static const char *const ENDS[] = {"abc", "mid", "midi", "musicxml", "xml", "mxl"};
    gtk_file_filter_set_name(tunes, "tunes (ABC, MIDI, MusicXML)");
    for (size_t i = 0; i < G_N_ELEMENTS(ENDS); i++)
        gtk_file_filter_add_suffix(tunes, ENDS[i]);
    stand_ask_open(s, "Open a tune", tunes, take_tune);
    g_object_unref(tunes);
}

static void copy(struct stand *s, const char *kept, const char *path, GFileCopyFlags flags)
{
    GFile *from = g_file_new_for_path(kept), *to = g_file_new_for_path(path);
    GError *error = NULL;
    if (g_file_copy(from, to, flags, NULL, NULL, NULL, &error)) {
        char *line = g_strdup_printf("saved as %s", path);
        stand_say(s, line);
        g_free(line);
    } else {
        stand_say(s, error->message);
        g_error_free(error);
    }
    g_object_unref(from);
    g_object_unref(to);
}

static void take_copy(struct stand *s, const char *path)
{
    const struct live_play *p = s->session.live;
    bool named = ends_with(path, ".mid") || ends_with(path, ".midi");
    if (!p || !p->recorder) return;
    /* The dialog has asked about a file of the name that was given, not about one with the ending. */
    char *whole = g_strconcat(path, named ? "" : ".mid", NULL);
    copy(s, us_recorder_path(p->recorder), whole, named ? G_FILE_COPY_OVERWRITE : G_FILE_COPY_NONE);
    g_free(whole);
}

void stand_keep_copy(struct stand *s)
{
    const struct live_play *p = s->session.live;
    if (p && p->recorder)
        stand_ask_save(s, "Save what I played", "practice.mid", take_copy);
    else
        stand_say(s, "nothing is kept now: this performance comes from a file");
}
