/* The review in the window: a page in the place of the picture, with what the evening's sessions show.  It is
   read on a thread of its own; playing goes on. */
#include "stand_parts.h"
#include "undersong/signs.h"

#include <stdlib.h>
#include <string.h>

/* What the thread needs, apart from the window. */
struct request {
    unsigned asked;
    char *tune;
    struct stand **reader;
};

static void request_free(void *request)
{
    struct request *r = request;
    g_free(r->tune);
    g_atomic_rc_box_release(r->reader);
    g_free(r);
}

static void draw(GtkDrawingArea *area, cairo_t *cr, int width, int height, void *user)
{
    const struct stand *s = user;
    if (s->review.reading) stand_reading_draw(s->review.reading, cr, width, s->choices.dark);
}

/* As high as it must be for its width.  Not while room is being shared out: that would be forgotten. */
static gboolean fit_height(void *user)
{
    struct stand *s = user;
    GtkDrawingArea *picture = GTK_DRAWING_AREA(s->review.picture);
    s->review.fitting = 0;
    double part = s->review.reading ? stand_reading_height(s->review.reading) : 0;
    int wanted = (int)(gtk_widget_get_width(s->review.picture) * part + 0.5);
    if (gtk_drawing_area_get_content_height(picture) != wanted)
        gtk_drawing_area_set_content_height(picture, wanted);
    return G_SOURCE_REMOVE;
}

static void fit_soon(struct stand *s)
{
    if (!s->review.fitting) s->review.fitting = g_idle_add(fit_height, s);
}

static void on_width(GtkDrawingArea *area, int width, int height, void *user)
{
    fit_soon(user);
}

static void show(GtkWidget *label, const char *words)
{
    size_t room = 3 * strlen(words) + 5; /* every byte a sign */
    char *signs = g_malloc(room);
    gtk_label_set_text(GTK_LABEL(label), us_write_signs(words, signs, room));
    g_free(signs);
    gtk_widget_set_visible(label, *words != 0);
}

static void fill(struct stand *s)
{
    struct stand_review *v = &s->review;
    show(v->heading, stand_reading_heading(v->reading));
    show(v->advice, stand_reading_advice(v->reading));
    show(v->story, stand_reading_story(v->reading));
    gtk_widget_set_visible(v->practise, stand_practice_row(s, stand_reading_bar(v->reading)) > 0);
    gtk_widget_set_visible(v->picture, stand_reading_height(v->reading) > 0);
    fit_soon(s);
    gtk_widget_queue_draw(v->picture);
}

static void read_kept(GTask *task, void *source, void *data, GCancellable *cancellable)
{
    const struct request *request = data;
    g_task_return_pointer(task, stand_reading_make(request->tune), stand_reading_free);
}

static void on_read(GObject *source, GAsyncResult *result, void *user)
{
    const struct request *request = g_task_get_task_data(G_TASK(result));
    struct stand *s = *request->reader;
    struct stand_reading *reading = g_task_propagate_pointer(G_TASK(result), NULL);
    if (!s || !reading || request->asked != s->review.asked || !stand_review_shown(s)) {
        stand_reading_free(reading);
        return;
    }
    stand_reading_free(s->review.reading);
    s->review.reading = reading;
    fill(s);
}

static void ask(struct stand *s)
{
    struct request *request = g_new0(struct request, 1);
    g_free(s->review.tune);
    s->review.tune = g_strdup(stand_tune(s));
    request->asked = ++s->review.asked;
    request->tune = g_strdup(s->review.tune);
    request->reader = g_atomic_rc_box_acquire(s->reader);
    GTask *task = g_task_new(NULL, NULL, on_read, NULL);
    g_task_set_task_data(task, request, request_free);
    g_task_run_in_thread(task, read_kept);
    g_object_unref(task);
}

void stand_review_open(struct stand *s)
{
    stand_hands_release(s); /* the drawn keys go, and nobody would see them let go */
    show(s->review.heading, "Reading what you played\xE2\x80\xA6");
    show(s->review.advice, "");
    show(s->review.story, "");
    gtk_widget_set_visible(s->review.practise, FALSE);
    gtk_widget_set_visible(s->review.picture, FALSE);
    gtk_stack_set_visible_child(GTK_STACK(s->pages), s->review.page);
    gtk_widget_grab_focus(s->review.close);
    ask(s);
}

void stand_review_follow(struct stand *s)
{
    if (!stand_review_shown(s) || g_strcmp0(s->review.tune, stand_tune(s)) == 0) return;
    gtk_widget_set_visible(s->review.practise, FALSE); /* its phrase was of the other tune */
    ask(s);
}

void stand_review_close(struct stand *s)
{
    s->review.asked++;
    gtk_stack_set_visible_child(GTK_STACK(s->pages), s->picture);
    gtk_widget_grab_focus(s->picture);
    stand_reading_free(s->review.reading);
    s->review.reading = NULL;
}

bool stand_review_shown(const struct stand *s)
{
    return gtk_stack_get_visible_child(GTK_STACK(s->pages)) == s->review.page;
}

void stand_review_scroll(struct stand *s, double pages)
{
    GtkWidget *scrolled = gtk_widget_get_last_child(s->review.page);
    GtkAdjustment *down = gtk_scrolled_window_get_vadjustment(GTK_SCROLLED_WINDOW(scrolled));
    gtk_adjustment_set_value(down,
                             gtk_adjustment_get_value(down) + pages * gtk_adjustment_get_page_size(down));
}

void stand_review_finish(struct stand *s)
{
    g_clear_handle_id(&s->review.fitting, g_source_remove);
    stand_reading_free(s->review.reading);
    g_free(s->review.tune);
    s->review.reading = NULL;
    s->review.tune = NULL;
}

static GtkWidget *paragraph(GtkWidget *column, const char *class)
{
    GtkWidget *label = gtk_label_new("");
    gtk_label_set_xalign(GTK_LABEL(label), 0);
    gtk_label_set_wrap(GTK_LABEL(label), TRUE);
    gtk_widget_add_css_class(label, class);
    gtk_box_append(GTK_BOX(column), label);
    return label;
}

static void practise(struct stand *s)
{
    int row = s->review.reading ? stand_practice_row(s, stand_reading_bar(s->review.reading)) : 0;
    stand_review_close(s);
    if (row) stand_practice_choose(s, row);
}

static GtkWidget *title_row(struct stand *s)
{
    GtkWidget *row = gtk_box_new(GTK_ORIENTATION_HORIZONTAL, 12), *title = gtk_label_new("What you played");
    gtk_widget_add_css_class(title, "review-title");
    gtk_widget_set_hexpand(title, TRUE);
    gtk_label_set_xalign(GTK_LABEL(title), 0);
    s->review.close = stand_labelled(gtk_button_new(), "_Close the review");
    gtk_widget_set_valign(s->review.close, GTK_ALIGN_CENTER);
    g_signal_connect_swapped(s->review.close, "clicked", G_CALLBACK(stand_review_close), s);
    gtk_box_append(GTK_BOX(row), title);
    gtk_box_append(GTK_BOX(row), s->review.close);
    return row;
}

GtkWidget *stand_review_build(struct stand *s)
{
    struct stand_review *v = &s->review;
    GtkWidget *column = gtk_box_new(GTK_ORIENTATION_VERTICAL, 14), *scrolled = gtk_scrolled_window_new();
    v->page = gtk_box_new(GTK_ORIENTATION_VERTICAL, 8);
    gtk_widget_add_css_class(v->page, "review");
    gtk_box_append(GTK_BOX(v->page), title_row(s));
    v->heading = paragraph(column, "review-heading");
    v->advice = paragraph(column, "review-advice");
    v->practise = stand_labelled(gtk_button_new(), "_Practise this phrase");
    gtk_widget_set_halign(v->practise, GTK_ALIGN_START);
    g_signal_connect_swapped(v->practise, "clicked", G_CALLBACK(practise), s);
    gtk_box_append(GTK_BOX(column), v->practise);
    v->picture = g_object_new(GTK_TYPE_DRAWING_AREA, "accessible-role", GTK_ACCESSIBLE_ROLE_IMG, NULL);
    gtk_accessible_update_property(GTK_ACCESSIBLE(v->picture), GTK_ACCESSIBLE_PROPERTY_LABEL,
                                   "each time through the tune, bar by bar", -1);
    gtk_drawing_area_set_draw_func(GTK_DRAWING_AREA(v->picture), draw, s, NULL);
    g_signal_connect(v->picture, "resize", G_CALLBACK(on_width), s);
    gtk_box_append(GTK_BOX(column), v->picture);
    v->story = paragraph(column, "review-story");
    gtk_scrolled_window_set_child(GTK_SCROLLED_WINDOW(scrolled), column);
    gtk_scrolled_window_set_policy(GTK_SCROLLED_WINDOW(scrolled), GTK_POLICY_NEVER, GTK_POLICY_AUTOMATIC);
    gtk_widget_set_vexpand(scrolled, TRUE);
    gtk_box_append(GTK_BOX(v->page), scrolled);
    return v->page;
}
