/* The window itself: the picture, drawn from the newest snapshot as the screen asks for it, above the
 * controls. */
#include "stand_parts.h"

#include "commands.h"
#include "stand_layout.h"
#include "undersong/draw.h"
#include "undersong/plain_line.h"
#include "undersong/signs.h"

#include <glib-unix.h>
#include <locale.h>
#include <signal.h>
#include <stdlib.h>
#include <string.h>

enum { LEAST_WIDE = 320, LEAST_TALL = 240, SAID_TOGETHER_US = 2000000 }; /* of a picture, see scene.h */

void stand_dump(struct stand *s)
{
    static char text[US_SCENE_MARKS * 64];
    if (!s->settings->dump_scene || !s->scene.marks) return;
    if (us_scene_dump(&s->scene, text, sizeof text) >= sizeof text) return;
    GString *all = g_string_new(text);
    stand_ports_dump(s, all);
    g_string_append_printf(all, "message \"%s\"\n", gtk_label_get_text(GTK_LABEL(s->controls.message)));
    g_file_set_contents(s->settings->dump_scene, all->str, (gssize)all->len, NULL);
    g_string_free(all, TRUE);
}

static void draw(GtkDrawingArea *area, cairo_t *cr, int width, int height, void *user)
{
    struct stand *s = user;
    s->request.width = MAX(width, LEAST_WIDE);
    s->request.height = MAX(height, LEAST_TALL);
    us_scene_build(&s->seen, &s->request, &s->scene);
    us_draw_scene(cr, &s->scene, s->choices.dark ? US_THEME_DARK : US_THEME_LIGHT);
    stand_dump(s);
}

/* What the picture shows, in words, for those who do not see it. */
static void describe(struct stand *s)
{
    char text[160], key[24], numeral[12];
    const struct us_snapshot *now = &s->seen;
    if (now->key.tonic == US_NO_KEY || now->chord.root == US_NO_CHORD)
        g_strlcpy(text, "nothing is played yet", sizeof text);
    else
        g_snprintf(text, sizeof text, "%s, chord %s", us_key_name(now->key, key, sizeof key),
                   us_chord_numeral(now->chord, now->key, numeral, sizeof numeral));
    if (strcmp(text, s->described) == 0) return;
    g_strlcpy(s->described, text, sizeof s->described);
    gtk_accessible_update_property(GTK_ACCESSIBLE(s->picture), GTK_ACCESSIBLE_PROPERTY_DESCRIPTION, text, -1);
}

static void take_line(struct stand *s)
{
    char line[sizeof s->said];
    g_mutex_lock(&s->mutex);
    g_strlcpy(line, s->said, sizeof line);
    *s->said = 0;
    g_mutex_unlock(&s->mutex);
    if (*line) stand_say(s, line);
}

static gboolean on_frame(GtkWidget *widget, GdkFrameClock *clock, void *user)
{
    struct stand *s = user;
    bool fresh;
    const struct us_snapshot *now = us_snapshot_box_latest(&s->box, &fresh);
    if (fresh) {
        s->seen = *now;
        stand_controls_follow(s, now);
        describe(s);
        gtk_widget_queue_draw(s->picture);
    }
    return G_SOURCE_CONTINUE;
}

/* What has been chosen, soon: also where the program is not ended but the plug is pulled. */
static void remember(struct stand *s)
{
    if (memcmp(&s->choices, &s->remembered, sizeof s->choices) == 0) return;
    s->remembered = s->choices;
    stand_choices_save(&s->choices);
}

/* Twice a second: what need not be at once. */
static gboolean on_look(void *user)
{
    struct stand *s = user;
    take_line(s);
    remember(s);
    if (us_midi_names_changed(s->names)) stand_controls_ports(s);
    if (stand_session_over(s) && s->session.live->from_file) {
        s->from_over = true;
        stand_session_again(s);
    } else if (stand_session_over(s)) {
        g_main_loop_quit(s->loop);
    }
    return G_SOURCE_CONTINUE;
}

/* Two lines that come together are both read.  A file's name need not be UTF-8. */
void stand_say(struct stand *s, const char *said)
{
    char *line = us_plain_copy(said);
    if (!line) return;
    gint64 now_us = g_get_monotonic_time();
    bool begun = g_str_has_suffix(s->shown_line, "\xE2\x80\xA6"); /* what has begun is done now */
    bool both = *line && *s->shown_line && !begun && now_us - s->shown_us < SAID_TOGETHER_US;
    char *words = both ? g_strdup_printf("%s;  %s", s->shown_line, line) : g_strdup(line);
    gtk_label_set_text(GTK_LABEL(s->controls.message), words);
    g_free(words);
    us_cut_text(line, s->shown_line, sizeof s->shown_line);
    s->shown_us = now_us;
    gtk_widget_set_visible(s->controls.message, *line != 0);
    free(line);
    stand_dump(s);
}

static void colour_controls(const struct stand *s)
{
    static GtkCssProvider *provider;
    enum us_theme theme = s->choices.dark ? US_THEME_DARK : US_THEME_LIGHT;
    char css[1000];
    g_snprintf(
        css, sizeof css,
        "window.stand { background: #%06x; color: #%06x; }"
        " .controls { padding: 4px 14px 10px 14px; }"
        " .controls .caption { color: #%06x; font-size: 85%%; }"
        " .controls button, .controls dropdown > button { min-height: 26px; padding: 2px 9px; }"
        " .message { color: #%06x; padding: 0 16px 2px 16px; }"
        " .review { padding: 14px 18px 0 18px; } .review-title { font-size: 170%%; font-weight: bold; }"
        " .review-heading { font-size: 135%%; } .review-advice { font-size: 120%%; }"
        " .review-story { font-family: monospace; padding-bottom: 14px; }",
        us_theme_colour(theme, US_INK_PAPER), us_theme_colour(theme, US_INK_TEXT),
        us_theme_colour(theme, US_INK_SOFT), us_theme_colour(theme, US_INK_TEXT));
    if (!provider) {
        provider = gtk_css_provider_new();
        gtk_style_context_add_provider_for_display(gdk_display_get_default(), GTK_STYLE_PROVIDER(provider),
                                                   GTK_STYLE_PROVIDER_PRIORITY_APPLICATION);
    }
    gtk_css_provider_load_from_data(provider, css, -1);
    g_object_set(gtk_settings_get_default(), "gtk-application-prefer-dark-theme", s->choices.dark, NULL);
}

void stand_set_dark(struct stand *s, bool dark)
{
    s->choices.dark = dark;
    colour_controls(s);
    if (!s->picture) return;
    gtk_widget_queue_draw(s->picture);
    gtk_widget_queue_draw(s->review.picture);
}

void stand_toggle_full_screen(struct stand *s)
{
    if (gtk_window_is_fullscreen(GTK_WINDOW(s->window))) /* also where the desktop began or ended it */
        gtk_window_unfullscreen(GTK_WINDOW(s->window));
    else
        gtk_window_fullscreen(GTK_WINDOW(s->window));
}

void stand_show_controls(struct stand *s, bool shown)
{
    s->choices.controls_shown = shown;
    gtk_widget_set_visible(s->controls.bar, shown);
    if (!shown && !stand_review_shown(s)) gtk_widget_grab_focus(s->picture);
}

/* 96 dots an inch are letters of the usual size. */
static void follow_text_size(GObject *settings, GParamSpec *what, void *user)
{
    struct stand *s = user;
    int dpi = -1;
    g_object_get(settings, "gtk-xft-dpi", &dpi, NULL);
    double system_scale = dpi > 0 ? dpi / 1024.0 / 96.0 : 1;
    s->request.text_scale = CLAMP(s->settings->text_scale * system_scale, 0.5, 3);
    if (s->picture) gtk_widget_queue_draw(s->picture);
}

static void on_focus(GObject *window, GParamSpec *what, void *user)
{
    stand_dump(user);
}

static gboolean on_close(GtkWindow *window, void *user)
{
    g_main_loop_quit(((struct stand *)user)->loop);
    return TRUE;
}

static gboolean on_signal(void *user)
{
    g_main_loop_quit(((struct stand *)user)->loop);
    return G_SOURCE_CONTINUE;
}

static void build(struct stand *s)
{
    GtkWidget *column = stand_column_new();
    s->window = gtk_window_new();
    gtk_window_set_title(GTK_WINDOW(s->window), "undersong");
    gtk_window_set_default_size(GTK_WINDOW(s->window), s->settings->width, s->settings->height);
    gtk_widget_add_css_class(s->window, "stand");
    s->picture = g_object_new(GTK_TYPE_DRAWING_AREA, "accessible-role", GTK_ACCESSIBLE_ROLE_IMG, NULL);
    gtk_widget_set_vexpand(s->picture, TRUE);
    gtk_widget_set_size_request(s->picture, LEAST_WIDE, LEAST_TALL);
    gtk_widget_set_focusable(s->picture, TRUE);
    gtk_drawing_area_set_draw_func(GTK_DRAWING_AREA(s->picture), draw, s, NULL);
    gtk_accessible_update_property(GTK_ACCESSIBLE(s->picture), GTK_ACCESSIBLE_PROPERTY_LABEL,
                                   "keys, steps and chords", -1);
    s->pages = gtk_stack_new();
    gtk_stack_add_child(GTK_STACK(s->pages), s->picture);
    gtk_stack_add_child(GTK_STACK(s->pages), stand_review_build(s));
    gtk_box_append(GTK_BOX(column), s->pages);
    gtk_box_append(GTK_BOX(column), stand_controls_build(s));
    gtk_window_set_child(GTK_WINDOW(s->window), column);
    stand_hands_attach(s);
    stand_show_controls(s, s->choices.controls_shown);
    gtk_widget_grab_focus(s->picture);
    g_signal_connect(s->window, "notify::focus-widget", G_CALLBACK(on_focus), s);
    g_signal_connect(s->window, "close-request", G_CALLBACK(on_close), s);
    gtk_widget_add_tick_callback(s->window, on_frame, s, NULL);
}

static void run_loop(struct stand *s)
{
    s->loop = g_main_loop_new(NULL, FALSE);
    unsigned timer = g_timeout_add(500, on_look, s);
    unsigned ends[] = {g_unix_signal_add(SIGINT, on_signal, s), g_unix_signal_add(SIGTERM, on_signal, s),
                       g_unix_signal_add(SIGHUP, on_signal, s)};
    if (s->settings->full_screen) stand_toggle_full_screen(s);
    gtk_window_present(GTK_WINDOW(s->window));
    g_main_loop_run(s->loop);
    g_source_remove(timer);
    for (size_t i = 0; i < G_N_ELEMENTS(ends); i++)
        g_source_remove(ends[i]);
    g_main_loop_unref(s->loop);
}

/* From here on the session and the window live side by side. */
static enum us_status run(struct stand *s, struct us_error *error)
{
    enum us_status status = us_event_queue_init(&s->keys, error);
    if (status) return status;
    s->names = us_midi_names_open();
    us_snapshot_box_init(&s->box);
    s->reader = g_atomic_rc_box_new0(struct stand *);
    *s->reader = s;
    colour_controls(s);
    follow_text_size(G_OBJECT(gtk_settings_get_default()), NULL, s);
    build(s);
    g_signal_connect(gtk_settings_get_default(), "notify::gtk-xft-dpi", G_CALLBACK(follow_text_size), s);
    status = stand_session_open(s, error);
    stand_display_watch(s);
    if (!status) {
        s->seen = *us_snapshot_box_latest(&s->box, NULL);
        run_loop(s);
        remember(s);
        status = stand_session_end(s, error);
    }
    g_signal_handlers_disconnect_by_data(gtk_settings_get_default(), s);
    gtk_window_destroy(GTK_WINDOW(s->window));
    stand_review_finish(s);
    stand_practice_finish(s);
    *s->reader = NULL;
    g_atomic_rc_box_release(s->reader);
    us_midi_names_close(s->names);
    us_event_queue_finish(&s->keys);
    stand_display_leave();
    return status;
}

int stand_window(const struct stand_settings *settings)
{
    struct us_error error;
    /* The picture is drawn by cairo; a graphics card would only delay it, and its libraries take 50 MB.  (The
       second name is that of GTK 4.14 and later.) */
    if (g_setenv("GSK_RENDERER", "cairo", FALSE) && strcmp(g_getenv("GSK_RENDERER"), "cairo") == 0) {
        g_setenv("GDK_DEBUG", "gl-disable", FALSE);
        g_setenv("GDK_DISABLE", "gl,vulkan", FALSE);
    }
    g_set_prgname("undersong");
    signal(SIGPIPE, SIG_IGN); /* who reads standard output may go */
    if (!gtk_init_check()) {
        us_error_set(&error, US_STATUS_NO_DEVICE,
                     "stand: no screen to open a window on; start it on a desktop, or use `play`, or "
                     "`stand --picture FILE.png`");
        return report_error(&error);
    }
    setlocale(LC_NUMERIC, "C"); /* GTK took the desktop's: tunes and tables have a point in their numbers */
    struct stand *s = g_new0(struct stand, 1);
    s->settings = settings;
    s->request.show_ahead = true;
    s->request.syllables = settings->syllables ? US_SYLLABLES_DO : US_SYLLABLES_LA;
    stand_choices_load(&s->choices);
    if (settings->theme != STAND_THEME_REMEMBERED) s->choices.dark = settings->theme == STAND_THEME_DARK;
    enum us_status status = run(s, &error);
    g_free(s);
    return status ? report_error(&error) : 0;
}
