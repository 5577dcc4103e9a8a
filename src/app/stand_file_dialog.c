/* The desktop's dialog for choosing a file.  It begins where the last file was opened or saved, at first in
   the user's own folder for music or for documents (XDG user directories). */
#include "stand_parts.h"

#include <gio/gio.h>

/* Who asked, and what is done with the file. */
struct asked {
    struct stand *stand;
    void (*take)(struct stand *s, const char *path);
};

static const char *folder(const struct stand *s)
{
    const char *const rows[] = {s->choices.folder, g_get_user_special_dir(G_USER_DIRECTORY_MUSIC),
                                g_get_user_special_dir(G_USER_DIRECTORY_DOCUMENTS), g_get_home_dir()};
    for (size_t i = 0; i < G_N_ELEMENTS(rows); i++)
        if (rows[i] && g_file_test(rows[i], G_FILE_TEST_IS_DIR)) return rows[i];
    return NULL;
}

static void begin_in(GtkFileChooser *dialog, const char *path)
{
    if (!path) return;
    GFile *file = g_file_new_for_path(path);
    gtk_file_chooser_set_current_folder(dialog, file, NULL); /* where it cannot, in the current one */
    g_object_unref(file);
}

static void remember_folder(struct stand *s, const char *path)
{
    char *folder_of = g_path_get_dirname(path);
    g_strlcpy(s->choices.folder, folder_of, sizeof s->choices.folder);
    g_free(folder_of);
}

static void on_response(GtkNativeDialog *dialog, int response, void *user)
{
    const struct asked *asked = user;
    GFile *file =
        response == GTK_RESPONSE_ACCEPT ? gtk_file_chooser_get_file(GTK_FILE_CHOOSER(dialog)) : NULL;
    char *path = file ? g_file_get_path(file) : NULL;
    if (path) {
        remember_folder(asked->stand, path);
        asked->take(asked->stand, path);
    } else if (file) {
        stand_say(asked->stand, "that folder is not on this computer: choose another");
    }
    g_free(path);
    if (file) g_object_unref(file);
    g_object_unref(dialog);
}

static GtkFileChooser *make(struct stand *s, const char *title, GtkFileChooserAction action,
                            void (*take)(struct stand *s, const char *path))
{
    GtkFileChooserNative *dialog =
        gtk_file_chooser_native_new(title, GTK_WINDOW(s->window), action,
                                    action == GTK_FILE_CHOOSER_ACTION_SAVE ? "_Save" : "_Open", "_Cancel");
    struct asked *asked = g_new(struct asked, 1);
    *asked = (struct asked){s, take};
    g_object_set_data_full(G_OBJECT(dialog), "asked", asked, g_free);
    g_signal_connect(dialog, "response", G_CALLBACK(on_response), asked);
    gtk_native_dialog_set_modal(GTK_NATIVE_DIALOG(dialog), TRUE);
    begin_in(GTK_FILE_CHOOSER(dialog), folder(s));
    return GTK_FILE_CHOOSER(dialog);
}

void stand_ask_open(struct stand *s, const char *title, GtkFileFilter *filter,
                    void (*take)(struct stand *s, const char *path))
{
    GtkFileChooser *dialog = make(s, title, GTK_FILE_CHOOSER_ACTION_OPEN, take);
    gtk_file_chooser_add_filter(dialog, filter);
    gtk_native_dialog_show(GTK_NATIVE_DIALOG(dialog));
}

void stand_ask_save(struct stand *s, const char *title, const char *name,
                    void (*take)(struct stand *s, const char *path))
{
    GtkFileChooser *dialog = make(s, title, GTK_FILE_CHOOSER_ACTION_SAVE, take);
    gtk_file_chooser_set_current_name(dialog, name);
    gtk_native_dialog_show(GTK_NATIVE_DIALOG(dialog));
}
