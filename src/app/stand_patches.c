/* Choosing the instruments that it sounds like. */
#include "stand_parts.h"

#include <stdlib.h>
#include <string.h>

static void on_patch(GObject *drop, GParamSpec *what, void *user)
{
    struct stand *s = user;
    const struct us_patch *list = g_object_get_data(drop, "patches");
    const char *id = list[gtk_drop_down_get_selected(GTK_DROP_DOWN(drop))].id;
    g_strlcpy(s->choices.patch, id, sizeof s->choices.patch);
    stand_session_again(s);
}

/* Keeps those that can be read; returns how many. */
static size_t readable(struct us_patch *list, size_t count)
{
    size_t kept = 0;
    for (size_t i = 0; i < count; i++)
        if (list[i].name[0]) list[kept++] = list[i];
    return kept;
}

static size_t row_of(const struct us_patch *list, size_t count, const char *id)
{
    size_t row = 0;
    while (row < count && strcmp(list[row].id, id) != 0)
        row++;
    return row;
}

/* The row of what was chosen another day; what is gone is chosen no longer. */
static size_t chosen_row(struct stand *s, const struct us_patch *list, size_t count)
{
    size_t row = row_of(list, count, s->choices.patch);
    if (row < count || !count) return row;
    char *line =
        g_strdup_printf("the instruments %s are not there any more: choose others", s->choices.patch);
    stand_say(s, line);
    g_free(line);
    row = row_of(list, count, STAND_PATCH);
    if (row == count) row = 0;
    g_strlcpy(s->choices.patch, list[row].id, sizeof s->choices.patch);
    return row;
}

void stand_patches_build(struct stand *s, void (*add)(struct stand *s, const char *caption,
                                                      const char *spoken, GtkWidget *control))
{
    struct us_patch *list;
    struct us_error error;
    size_t count;
    if (us_patch_list(&list, &count, &error)) return;
    count = readable(list, count);
    GtkStringList *words = gtk_string_list_new(NULL);
    for (size_t i = 0; i < count; i++)
        gtk_string_list_append(words, list[i].name);
    GtkWidget *drop = gtk_drop_down_new(G_LIST_MODEL(words), NULL);
    gtk_drop_down_set_selected(GTK_DROP_DOWN(drop), (guint)chosen_row(s, list, count));
    g_object_set_data_full(G_OBJECT(drop), "patches", list, free);
    g_signal_connect(drop, "notify::selected", G_CALLBACK(on_patch), s);
    add(s, "sounds like", "the instruments", drop);
}
