/* Choosing where the player comes from and where MIDI goes; the lists follow what is plugged in. */
#include "stand_parts.h"

#include <string.h>

static const char INPUT_CAPTION[] = "play on", OUTPUT_CAPTION[] = "send MIDI to";

static const char *chosen_name(const struct port_list *list, GObject *drop)
{
    guint at = gtk_drop_down_get_selected(GTK_DROP_DOWN(drop));
    return at < (guint)list->rows ? list->row[at].name : NULL;
}

static void on_input(GObject *drop, GParamSpec *what, void *user)
{
    struct stand *s = user;
    const char *name = chosen_name(&s->controls.input_list, drop);
    if (s->controls.following || !name) return;
    g_strlcpy(s->choices.input, name, sizeof s->choices.input);
    s->from_over = true; /* the player's choice wins over the command line's */
    stand_session_again(s);
}

static void on_output(GObject *drop, GParamSpec *what, void *user)
{
    struct stand *s = user;
    const char *name = chosen_name(&s->controls.output_list, drop);
    if (s->controls.following || !name) return;
    g_strlcpy(s->choices.output, name, sizeof s->choices.output);
    stand_session_again(s);
}

struct lists {
    struct port_list in, out;
};

static void take_port(void *user, const char *name, bool input)
{
    struct lists *lists = user;
    port_list_add(input ? &lists->in : &lists->out, name);
}

/* Leaves a list alone in which nothing has changed: it may be open. */
static void show(GtkWidget *drop, GtkStringList *words, struct port_list *shown, const struct port_list *now)
{
    const char *rows[PORT_LIST_MAX + 1] = {NULL};
    if (port_list_same(shown, now)) return;
    *shown = *now;
    for (int i = 0; i < now->rows; i++)
        rows[i] = now->row[i].words;
    gtk_string_list_splice(words, 0, g_list_model_get_n_items(G_LIST_MODEL(words)), rows);
    gtk_drop_down_set_selected(GTK_DROP_DOWN(drop), (guint)now->selected);
}

/* A keyboard that was waited for has come. */
static bool has_come(const struct stand *s)
{
    const struct live_play *p = s->session.live;
    return p && !p->from_file && !p->listens && port_list_can_open(&s->controls.input_list, s->choices.input);
}

void stand_controls_ports(struct stand *s)
{
    struct stand_controls *c = &s->controls;
    static struct lists now;
    port_list_begin(&now.in);
    port_list_begin(&now.out);
    port_list_fixed(&now.in, "", "the first MIDI keyboard");
    port_list_fixed(&now.in, "-", "computer keys and mouse");
    port_list_fixed(&now.out, "", "nowhere");
    us_midi_names_list(s->names, take_port, &now);
    port_list_select(&now.in, s->choices.input);
    port_list_select(&now.out, s->choices.output);
    c->following = true;
    show(c->input, c->inputs, &c->input_list, &now.in);
    show(c->output, c->outputs, &c->output_list, &now.out);
    c->following = false;
    if (has_come(s)) stand_session_again(s);
    stand_dump(s);
}

static void dump_list(const char *caption, GtkWidget *drop, GString *out)
{
    GListModel *rows = gtk_drop_down_get_model(GTK_DROP_DOWN(drop));
    bool focused = gtk_widget_get_state_flags(drop) & GTK_STATE_FLAG_FOCUS_WITHIN;
    g_string_append_printf(out, "list \"%s\"%s", caption, focused ? " focused" : "");
    for (guint i = 0; i < g_list_model_get_n_items(rows); i++)
        g_string_append_printf(out,
                               i == gtk_drop_down_get_selected(GTK_DROP_DOWN(drop)) ? " *\"%s\"" : " \"%s\"",
                               gtk_string_list_get_string(GTK_STRING_LIST(rows), i));
    g_string_append_c(out, '\n');
}

void stand_ports_dump(const struct stand *s, GString *out)
{
    dump_list(INPUT_CAPTION, s->controls.input, out);
    dump_list(OUTPUT_CAPTION, s->controls.output, out);
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
    add(s, INPUT_CAPTION, "the keyboard you play on", c->input);
    add(s, OUTPUT_CAPTION, "where MIDI is sent", c->output);
    stand_controls_ports(s);
}
