/* Choosing where the player comes from and where MIDI goes; the lists follow what is plugged in. */
#include "stand_parts.h"

#include <string.h>

static const char NO_KEYBOARD[] = "computer keys and mouse", ANY_KEYBOARD[] = "the first MIDI keyboard";
static const char NO_OUTPUT[] = "nowhere";

static void on_input(GObject *drop, GParamSpec *what, void *user)
{
    struct stand *s = user;
    guint at = gtk_drop_down_get_selected(GTK_DROP_DOWN(drop));
    if (s->controls.following || at == GTK_INVALID_LIST_POSITION) return;
    const char *name = at == 0 ? "" : at == 1 ? "-" : gtk_string_list_get_string(s->controls.inputs, at);
    g_strlcpy(s->choices.input, name, sizeof s->choices.input);
    s->from_over = true; /* the player's choice wins over the command line's */
    stand_session_again(s);
}

static void on_output(GObject *drop, GParamSpec *what, void *user)
{
    struct stand *s = user;
    guint at = gtk_drop_down_get_selected(GTK_DROP_DOWN(drop));
    if (s->controls.following || at == GTK_INVALID_LIST_POSITION) return;
    const char *name = at == 0 ? "" : gtk_string_list_get_string(s->controls.outputs, at);
    g_strlcpy(s->choices.output, name, sizeof s->choices.output);
    stand_session_again(s);
}

static void take_port(void *user, const char *name, bool input)
{
    struct stand *s = user;
    gtk_string_list_append(input ? s->controls.inputs : s->controls.outputs, name);
}

/* Where the name stands in the list; one that is not there now is added, so that the choice is kept. */
static guint place_of(GtkStringList *list, const char *name, guint first)
{
    guint count = g_list_model_get_n_items(G_LIST_MODEL(list));
    for (guint i = first; i < count; i++)
        if (strcmp(gtk_string_list_get_string(list, i), name) == 0) return i;
    gtk_string_list_append(list, name);
    return count;
}

void stand_controls_ports(struct stand *s)
{
    struct stand_controls *c = &s->controls;
    const char *first_inputs[] = {ANY_KEYBOARD, NO_KEYBOARD, NULL}, *first_outputs[] = {NO_OUTPUT, NULL};
    bool wanted = !*s->choices.input && s->session.live && !s->session.live->ports;
    c->following = true;
    gtk_string_list_splice(c->inputs, 0, g_list_model_get_n_items(G_LIST_MODEL(c->inputs)), first_inputs);
    gtk_string_list_splice(c->outputs, 0, g_list_model_get_n_items(G_LIST_MODEL(c->outputs)), first_outputs);
    us_midi_names_list(s->names, take_port, s);
    const char *in = s->choices.input, *out = s->choices.output;
    gtk_drop_down_set_selected(GTK_DROP_DOWN(c->input), !*in                   ? 0
                                                        : strcmp(in, "-") == 0 ? 1
                                                                               : place_of(c->inputs, in, 2));
    gtk_drop_down_set_selected(GTK_DROP_DOWN(c->output), *out ? place_of(c->outputs, out, 1) : 0);
    c->following = false;
    /* A keyboard has come, and none was there. */
    bool file = s->session.live && s->session.live->from_file;
    if (wanted && !file && g_list_model_get_n_items(G_LIST_MODEL(c->inputs)) > 2) stand_session_again(s);
}

void stand_ports_build(struct stand *s, void (*add)(struct stand *s, const char *caption, const char *spoken,
                                                    GtkWidget *control))
{
    struct stand_controls *c = &s->controls;
    c->inputs = gtk_string_list_new(NULL);
    c->outputs = gtk_string_list_new(NULL);
    c->input = gtk_drop_down_new(G_LIST_MODEL(c->inputs), NULL);
    c->output = gtk_drop_down_new(G_LIST_MODEL(c->outputs), NULL);
    g_signal_connect(c->input, "notify::selected", G_CALLBACK(on_input), s);
    g_signal_connect(c->output, "notify::selected", G_CALLBACK(on_output), s);
    add(s, "play on", "the keyboard you play on", c->input);
    add(s, "send MIDI to", "where MIDI is sent", c->output);
    stand_controls_ports(s);
}
