/* The controls below the picture: real widgets, each with a caption that names it. */
#include "stand_parts.h"

#include "stand_layout.h"
#include "undersong/transpose.h"

#include <stddef.h>
#include <string.h>

static const char *const TEXTURES[] = {"as the sound suggests",
                                       "full chords",
                                       "open fifths",
                                       "roots, and a run on V",
                                       "broken chords",
                                       "root and chords",
                                       "a drone",
                                       "single roots",
                                       NULL};
static const char *const CHANGES[] = {"as the tune asks", "at each bar", "at each half bar", "at each beat",
                                      NULL};
static const char *const CHORDS[] = {"I alone", "I, IV and V", "all of the key", NULL};
static const char *const SECONDS[] = {"none", "in thirds", "in sixths", "as a round", NULL};
static const char *const SHARES[] = {"all of the left hand",
                                     "less as you succeed",
                                     "all but what you play",
                                     "no more than roots",
                                     "roots you miss",
                                     "no left hand",
                                     NULL};
static const char *const PEDALS[] = {"nothing",         "soft pedal",      "middle pedal",
                                     "lowest key (A0)", "lowest key (C2)", NULL};
static const char *const DRILLS[] = {
    "no: one key",   "those I need most",   "at most one sign",   "the sharp keys",
    "the flat keys", "all, fifth by fifth", "all, by half steps", NULL};
static const char *const HEARD[] = {"as played",     "C", "D\xE2\x99\xAD", "D", "E\xE2\x99\xAD", "E", "F",
                                    "G\xE2\x99\xAD", "G", "A\xE2\x99\xAD", "A", "B\xE2\x99\xAD", "B", NULL};

static void set_texture(struct stand *s, int value)
{
    enum us_texture texture = value ? (enum us_texture)(value - 1) : US_TEXTURE_BLOCK;
    const struct live_play *p = s->session.live;
    if (!value && p && p->setup.patch.sets_texture) texture = p->setup.patch.texture;
    stand_session_control(s, US_CONTROL_TEXTURE, (int)texture);
}

static void set_change(struct stand *s, int value)
{
    stand_session_control(s, US_CONTROL_CHANGE, value);
}

static void set_chords(struct stand *s, int value)
{
    stand_session_control(s, US_CONTROL_CHORDS, value);
}

static void set_second(struct stand *s, int value)
{
    stand_session_control(s, US_CONTROL_SECOND_VOICE, value);
}

static void set_share(struct stand *s, int value)
{
    static const int LEVELS[] = {100, US_SHARE_AUTO, 99, 66, 33, 0};
    stand_session_control(s, US_CONTROL_SHARE, LEVELS[value]);
}

/* These begin a new play. */
static void set_again(struct stand *s, int value)
{
    stand_session_again(s);
}

#define AT(field) offsetof(struct stand_choices, field)
static const struct row {
    const char *caption, *name; /* `name` for those who hear it instead of seeing it */
    const char *const *words;
    size_t at;
    void (*set)(struct stand *s, int value);
} ROWS[] = {
    {"left hand plays", "how the left hand plays", TEXTURES, AT(texture), set_texture},
    {"chords change", "how often chords change", CHANGES, AT(change), set_change},
    {"chords allowed", "which chords are allowed", CHORDS, AT(chords), set_chords},
    {"second voice", "second voice below the tune", SECONDS, AT(second), set_second},
    {"the program plays", "how much of the left hand the program plays", SHARES, AT(share), set_share},
    {"next left hand with", "pedal or key for the next left hand", PEDALS, AT(pedal), set_again},
    {"round the keys", "keys round which the tune is led", DRILLS, AT(drill), set_again},
};

static void name(GtkWidget *widget, const char *words)
{
    if (GTK_IS_DROP_DOWN(widget))
        name(gtk_widget_get_first_child(widget), words); /* its button has the focus */
    gtk_accessible_update_property(GTK_ACCESSIBLE(widget), GTK_ACCESSIBLE_PROPERTY_LABEL, words, -1);
}

GtkWidget *stand_labelled(GtkWidget *button, const char *words)
{
    GtkWidget *label = gtk_label_new_with_mnemonic(words);
    gtk_button_set_child(GTK_BUTTON(button), label);
    gtk_label_set_mnemonic_widget(GTK_LABEL(label), button);
    return button;
}

/* A caption above a control, which is spoken as `spoken`; NULL: it has words of its own. */
static void add(struct stand *s, const char *caption, const char *spoken, GtkWidget *control)
{
    GtkWidget *box = gtk_box_new(GTK_ORIENTATION_VERTICAL, 1), *label = gtk_label_new(caption);
    gtk_widget_add_css_class(label, "caption");
    gtk_widget_set_halign(label, GTK_ALIGN_START);
    gtk_widget_set_valign(control, GTK_ALIGN_CENTER);
    gtk_widget_set_vexpand(control, TRUE); /* all in the middle of their row, high or low */
    gtk_box_append(GTK_BOX(box), label);
    gtk_box_append(GTK_BOX(box), control);
    if (spoken) name(control, spoken);
    gtk_box_append(GTK_BOX(s->controls.row), box);
}

static void on_row(GObject *drop, GParamSpec *what, void *user)
{
    struct stand *s = user;
    const struct row *row = g_object_get_data(drop, "row");
    int value = (int)gtk_drop_down_get_selected(GTK_DROP_DOWN(drop));
    *(int *)((char *)&s->choices + row->at) = value;
    if (!s->controls.following) row->set(s, value);
}

static void add_row(struct stand *s, const struct row *row)
{
    GtkWidget *drop = gtk_drop_down_new_from_strings(row->words);
    gtk_drop_down_set_selected(GTK_DROP_DOWN(drop), (guint) * (int *)((char *)&s->choices + row->at));
    g_object_set_data(G_OBJECT(drop), "row", (void *)row);
    g_signal_connect(drop, "notify::selected", G_CALLBACK(on_row), s);
    if (row->set == set_texture) s->controls.texture = drop;
    add(s, row->caption, row->name, drop);
}

static void on_sound(GObject *control, GParamSpec *what, void *user)
{
    struct stand *s = user;
    s->choices.sound = gtk_switch_get_active(GTK_SWITCH(control));
    stand_session_volume(s);
}

static void on_level(GtkRange *range, void *user)
{
    struct stand *s = user;
    s->choices.volume = gtk_range_get_value(range);
    stand_session_volume(s);
}

static void add_sound(struct stand *s)
{
    GtkWidget *on = gtk_switch_new(),
              *level = gtk_scale_new_with_range(GTK_ORIENTATION_HORIZONTAL, 0, 1, 0.05);
    GtkWidget *both = gtk_box_new(GTK_ORIENTATION_HORIZONTAL, 4);
    gtk_switch_set_active(GTK_SWITCH(on), s->choices.sound);
    gtk_range_set_value(GTK_RANGE(level), s->choices.volume);
    gtk_widget_set_size_request(level, 100, -1);
    gtk_widget_set_valign(on, GTK_ALIGN_CENTER);
    gtk_box_append(GTK_BOX(both), on);
    gtk_box_append(GTK_BOX(both), level);
    g_signal_connect(on, "notify::active", G_CALLBACK(on_sound), s);
    g_signal_connect(level, "value-changed", G_CALLBACK(on_level), s);
    add(s, "sound, and how loud", "sound", both);
    name(on, "sound on");
    name(level, "how loud");
}

static void on_left_hand(GObject *control, GParamSpec *what, void *user)
{
    struct stand *s = user;
    s->choices.left_hand = gtk_switch_get_active(GTK_SWITCH(control));
    if (!s->controls.following) stand_session_control(s, US_CONTROL_LEFT_HAND, s->choices.left_hand);
}

static void on_lock(GtkToggleButton *button, void *user)
{
    struct stand *s = user;
    if (!s->controls.following)
        stand_session_control(s, US_CONTROL_KEY_LOCK, gtk_toggle_button_get_active(button));
}

/* Before anything is played it counts as C. */
static struct us_key played_key(const struct stand *s)
{
    return s->seen.key.tonic == US_NO_KEY ? (struct us_key){0, US_MODE_MAJOR} : s->seen.key;
}

static void on_hear_in(GObject *drop, GParamSpec *what, void *user)
{
    struct stand *s = user;
    int tonic = (int)gtk_drop_down_get_selected(GTK_DROP_DOWN(drop)) - 1;
    struct us_key played = played_key(s), heard = {(int8_t)tonic, played.mode};
    if (s->controls.following) return;
    s->choices.sound_shift = tonic < 0 ? 0 : us_transpose_between(played, heard);
    stand_session_control(s, US_CONTROL_SOUND_SHIFT, s->choices.sound_shift);
}

/* The shift stays when the player goes to another key, and what is heard goes with them. */
static guint hear_in_row(const struct stand *s)
{
    int shift = s->choices.sound_shift;
    return shift ? (guint)us_pitch_class(played_key(s).tonic + shift) + 1 : 0;
}

static void add_hand(struct stand *s)
{
    s->controls.left_hand = gtk_switch_new();
    gtk_switch_set_active(GTK_SWITCH(s->controls.left_hand), s->choices.left_hand);
    gtk_widget_set_halign(s->controls.left_hand, GTK_ALIGN_START);
    g_signal_connect(s->controls.left_hand, "notify::active", G_CALLBACK(on_left_hand), s);
    add(s, "left hand", "left hand on", s->controls.left_hand);
}

static void add_lock(struct stand *s)
{
    s->controls.lock = stand_labelled(gtk_toggle_button_new(), "_Keep this key");
    g_signal_connect(s->controls.lock, "toggled", G_CALLBACK(on_lock), s);
    add(s, "key", NULL, s->controls.lock);
}

static void add_hear_in(struct stand *s)
{
    s->controls.hear_in = gtk_drop_down_new_from_strings(HEARD);
    gtk_drop_down_set_selected(GTK_DROP_DOWN(s->controls.hear_in), hear_in_row(s));
    g_signal_connect(s->controls.hear_in, "notify::selected", G_CALLBACK(on_hear_in), s);
    add(s, "hear it in", "the key in which it is heard", s->controls.hear_in);
}

static void button(struct stand *s, GtkWidget *box, const char *words, GCallback action)
{
    GtkWidget *b = stand_labelled(gtk_button_new(), words);
    g_signal_connect_swapped(b, "clicked", action, s);
    gtk_box_append(GTK_BOX(box), b);
}

static void on_dark(GtkToggleButton *toggle, void *user)
{
    stand_set_dark(user, gtk_toggle_button_get_active(toggle));
}

static void no_tune(struct stand *s)
{
    *s->choices.tune = *s->choices.phrase = 0;
    s->tune_over = true;
    stand_session_again(s);
    stand_say(s, "no tune: the melody is followed by ear");
}

static void hide(struct stand *s)
{
    stand_show_controls(s, false);
    stand_say(s, "F9 brings the controls back");
}

static GtkWidget *group(void)
{
    return gtk_box_new(GTK_ORIENTATION_HORIZONTAL, 4);
}

static void add_tune(struct stand *s)
{
    GtkWidget *tune = group(), *silence = group();
    button(s, tune, "_Open\xE2\x80\xA6", G_CALLBACK(stand_open_tune));
    button(s, tune, "_By ear", G_CALLBACK(no_tune));
    button(s, tune, "Sh_eet\xE2\x80\xA6", G_CALLBACK(stand_save_sheet));
    add(s, "tune", "tune", tune);
    button(s, silence, "_All notes off", G_CALLBACK(stand_session_panic));
    add(s, "escape key", "silence", silence);
}

static void on_more(GtkToggleButton *toggle, void *user)
{
    struct stand *s = user;
    s->choices.more_shown = gtk_toggle_button_get_active(toggle);
    gtk_widget_set_visible(s->controls.more, s->choices.more_shown);
}

void stand_show_more(struct stand *s)
{
    gtk_toggle_button_set_active(GTK_TOGGLE_BUTTON(s->controls.more_button), TRUE);
}

static GtkWidget *toggle(GtkWidget *box, const char *words, bool on, GCallback action, struct stand *s)
{
    GtkWidget *b = stand_labelled(gtk_toggle_button_new(), words);
    gtk_toggle_button_set_active(GTK_TOGGLE_BUTTON(b), on);
    g_signal_connect(b, "toggled", action, s);
    gtk_box_append(GTK_BOX(box), b);
    return b;
}

static void add_window(struct stand *s)
{
    GtkWidget *window = group(), *keep = group();
    button(s, keep, "_Review", G_CALLBACK(stand_review_open));
    button(s, keep, "_Save it\xE2\x80\xA6", G_CALLBACK(stand_keep_copy));
    add(s, "what I played", "what I played", keep);
    toggle(window, "_Dark", s->choices.dark, G_CALLBACK(on_dark), s);
    button(s, window, "_Full screen", G_CALLBACK(stand_toggle_full_screen));
    button(s, window, "_Hide these", G_CALLBACK(hide));
    add(s, "window", "window", window);
}

static void build_rows(struct stand *s, GtkWidget *column)
{
    gtk_box_append(GTK_BOX(column), s->controls.row = stand_flow_new());
    add_hand(s);
    add_row(s, &ROWS[0]);
    add_row(s, &ROWS[1]);
    add_row(s, &ROWS[2]);
    add_lock(s);
    add_sound(s);
    add_tune(s);
    GtkWidget *more = group();
    s->controls.more_button = toggle(more, "_More", s->choices.more_shown, G_CALLBACK(on_more), s);
    add(s, "settings", "settings", more);
    gtk_box_append(GTK_BOX(column), s->controls.row = s->controls.more = stand_flow_new());
    add(s, "practise", "the part of the tune to practise", stand_practice_build(s));
    add_row(s, &ROWS[6]);
    add_row(s, &ROWS[3]);
    add_row(s, &ROWS[4]);
    add_hear_in(s);
    stand_patches_build(s, add);
    add_row(s, &ROWS[5]);
    stand_ports_build(s, add);
    add_window(s);
    gtk_widget_set_visible(s->controls.more, s->choices.more_shown);
}

GtkWidget *stand_controls_build(struct stand *s)
{
    GtkWidget *below = gtk_box_new(GTK_ORIENTATION_VERTICAL, 0);
    GtkWidget *column = gtk_box_new(GTK_ORIENTATION_VERTICAL, 6);
    /* Where more than half of the window would be taken, the rest is scrolled to. */
    s->controls.bar = gtk_scrolled_window_new();
    gtk_scrolled_window_set_policy(GTK_SCROLLED_WINDOW(s->controls.bar), GTK_POLICY_NEVER,
                                   GTK_POLICY_AUTOMATIC);
    gtk_scrolled_window_set_overlay_scrolling(GTK_SCROLLED_WINDOW(s->controls.bar), FALSE); /* it is seen */
    gtk_widget_set_vexpand(s->controls.bar, TRUE);
    gtk_scrolled_window_set_child(GTK_SCROLLED_WINDOW(s->controls.bar), column);
    gtk_widget_add_css_class(column, "controls");
    s->controls.message = gtk_label_new("");
    gtk_label_set_xalign(GTK_LABEL(s->controls.message), 0);
    gtk_label_set_ellipsize(GTK_LABEL(s->controls.message), PANGO_ELLIPSIZE_END);
    gtk_widget_add_css_class(s->controls.message, "message");
    gtk_widget_set_visible(s->controls.message, FALSE);
    build_rows(s, column);
    gtk_box_append(GTK_BOX(below), s->controls.message);
    gtk_box_append(GTK_BOX(below), s->controls.bar);
    return below;
}

static void follow_texture(struct stand *s, enum us_texture texture)
{
    GtkDropDown *drop = GTK_DROP_DOWN(s->controls.texture);
    guint shown = gtk_drop_down_get_selected(drop);
    const struct live_play *p = s->session.live;
    enum us_texture suggested = p && p->setup.patch.sets_texture ? p->setup.patch.texture : US_TEXTURE_BLOCK;
    bool as_suggested = shown == 0 && texture == suggested;
    if (!as_suggested && shown != (guint)texture + 1) gtk_drop_down_set_selected(drop, (guint)texture + 1);
}

void stand_controls_follow(struct stand *s, const struct us_snapshot *now)
{
    struct stand_controls *c = &s->controls;
    c->following = true;
    gtk_switch_set_active(GTK_SWITCH(c->left_hand), now->left_hand_on);
    gtk_toggle_button_set_active(GTK_TOGGLE_BUTTON(c->lock), now->key_locked);
    gtk_drop_down_set_selected(GTK_DROP_DOWN(c->hear_in), hear_in_row(s));
    /* Until a choice is heard, what is seen is still the one before: that takes no choice back. */
    if (now->texture != c->texture_followed) follow_texture(s, now->texture);
    c->texture_followed = (uint8_t)now->texture;
    c->following = false;
}
