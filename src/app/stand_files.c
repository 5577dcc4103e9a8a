/* Opening a tune, and saving a copy of what was played. */
#include "stand_parts.h"

#include <gio/gio.h>

static void on_tune(GtkNativeDialog *dialog, int response, void *user)
{
    struct stand *s = user;
    GFile *file =
        response == GTK_RESPONSE_ACCEPT ? gtk_file_chooser_get_file(GTK_FILE_CHOOSER(dialog)) : NULL;
    char *path = file ? g_file_get_path(file) : NULL;
    if (path) {
        char *name = g_path_get_basename(path), *line = g_strdup_printf("%s: play it, in any key", name);
        stand_say(s, line);
        g_strlcpy(s->choices.tune, path, sizeof s->choices.tune);
        *s->choices.phrase = 0;
        s->tune_over = true;
        stand_session_again(s);
        g_free(line);
        g_free(name);
    }
    g_free(path);
    if (file) g_object_unref(file);
    g_object_unref(dialog);
}

void stand_open_tune(struct stand *s)
{
    GtkFileChooserNative *dialog = gtk_file_chooser_native_new(
        "Open a tune", GTK_WINDOW(s->window), GTK_FILE_CHOOSER_ACTION_OPEN, "_Open", "_Cancel");
    GtkFileFilter *tunes = gtk_file_filter_new();
    static const char *const ENDS[] = {"abc", "mid", "midi", "musicxml", "xml", "mxl"};
    gtk_file_filter_set_name(tunes, "tunes (ABC, MIDI, MusicXML)");
    for (size_t i = 0; i < G_N_ELEMENTS(ENDS); i++)
        gtk_file_filter_add_suffix(tunes, ENDS[i]);
    gtk_file_chooser_add_filter(GTK_FILE_CHOOSER(dialog), tunes);
    gtk_native_dialog_set_modal(GTK_NATIVE_DIALOG(dialog), TRUE);
    g_signal_connect(dialog, "response", G_CALLBACK(on_tune), s);
    gtk_native_dialog_show(GTK_NATIVE_DIALOG(dialog));
}

static void copy(struct stand *s, const char *path, GFile *to)
{
    GFile *from = g_file_new_for_path(path);
    GError *error = NULL;
    if (g_file_copy(from, to, G_FILE_COPY_OVERWRITE, NULL, NULL, NULL, &error)) {
        char *line = g_strdup_printf("saved as %s", g_file_peek_path(to));
        stand_say(s, line);
        g_free(line);
    } else {
        stand_say(s, error->message);
        g_error_free(error);
    }
    g_object_unref(from);
}

static void on_copy(GtkNativeDialog *dialog, int response, void *user)
{
    struct stand *s = user;
    GFile *to = response == GTK_RESPONSE_ACCEPT ? gtk_file_chooser_get_file(GTK_FILE_CHOOSER(dialog)) : NULL;
    const struct live_play *p = s->session.live;
    if (to && p && p->recorder) copy(s, us_recorder_path(p->recorder), to);
    if (to) g_object_unref(to);
    g_object_unref(dialog);
}

void stand_keep_copy(struct stand *s)
{
    const struct live_play *p = s->session.live;
    if (!p || !p->recorder) {
        stand_say(s, "nothing is kept now: this performance comes from a file");
        return;
    }
    GtkFileChooserNative *dialog = gtk_file_chooser_native_new(
        "Save what I played", GTK_WINDOW(s->window), GTK_FILE_CHOOSER_ACTION_SAVE, "_Save", "_Cancel");
    gtk_file_chooser_set_current_name(GTK_FILE_CHOOSER(dialog), "practice.mid");
    gtk_native_dialog_set_modal(GTK_NATIVE_DIALOG(dialog), TRUE);
    g_signal_connect(dialog, "response", G_CALLBACK(on_copy), s);
    gtk_native_dialog_show(GTK_NATIVE_DIALOG(dialog));
}
