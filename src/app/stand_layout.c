/* How the window shares out its room: controls flow into as many rows as their words need, and leave the
   picture at least its half. */
#include "stand_layout.h"

enum { GAP = 12, ROW_GAP = 6 };
static const double CONTROLS_MOST = 0.55; /* of the height; what is more is scrolled to */

struct _StandFlow {
    GtkLayoutManager parent;
};
G_DEFINE_FINAL_TYPE(StandFlow, stand_flow, GTK_TYPE_LAYOUT_MANAGER)

static int width_of(GtkWidget *child, int most)
{
    int least, natural;
    gtk_widget_measure(child, GTK_ORIENTATION_HORIZONTAL, -1, &least, &natural, NULL, NULL);
    return MAX(least, MIN(natural, most));
}

static int height_of(GtkWidget *child, int width)
{
    int natural;
    gtk_widget_measure(child, GTK_ORIENTATION_VERTICAL, width, NULL, &natural, NULL, NULL);
    return natural;
}

/* One row: from `child` as many as fit.  Returns the first of the next row. */
static GtkWidget *one_row(GtkWidget *child, int width, int *height)
{
    int used = 0;
    *height = 0;
    for (; child; child = gtk_widget_get_next_sibling(child)) {
        if (!gtk_widget_should_layout(child)) continue;
        int wide = width_of(child, width);
        if (used && used + GAP + wide > width) return child;
        used += (used ? GAP : 0) + wide;
        *height = MAX(*height, height_of(child, wide));
    }
    return NULL;
}

static int flow_height(GtkWidget *widget, int width)
{
    int sum = 0, height;
    for (GtkWidget *row = gtk_widget_get_first_child(widget); row;) {
        row = one_row(row, width, &height);
        sum += (sum ? ROW_GAP : 0) + height;
    }
    return sum;
}

static GtkSizeRequestMode flow_mode(GtkLayoutManager *manager, GtkWidget *widget)
{
    return GTK_SIZE_REQUEST_HEIGHT_FOR_WIDTH;
}

static void flow_measure(GtkLayoutManager *manager, GtkWidget *widget, GtkOrientation orientation,
                         int for_size, int *least, int *natural, int *least_base, int *natural_base)
{
    *least = *natural = 0;
    for (GtkWidget *child = gtk_widget_get_first_child(widget); child;
         child = gtk_widget_get_next_sibling(child)) {
        int small, wanted;
        if (!gtk_widget_should_layout(child)) continue;
        gtk_widget_measure(child, GTK_ORIENTATION_HORIZONTAL, -1, &small, &wanted, NULL, NULL);
        *least = MAX(*least, small);
        *natural += (*natural ? GAP : 0) + wanted;
    }
    if (orientation == GTK_ORIENTATION_VERTICAL)
        *least = *natural = flow_height(widget, for_size < 0 ? *natural : for_size);
}

static void flow_allocate(GtkLayoutManager *manager, GtkWidget *widget, int width, int height, int baseline)
{
    int y = 0, tall;
    for (GtkWidget *child = gtk_widget_get_first_child(widget); child; y += tall + ROW_GAP) {
        GtkWidget *next = one_row(child, width, &tall);
        for (int x = 0; child != next; child = gtk_widget_get_next_sibling(child)) {
            if (!gtk_widget_should_layout(child)) continue;
            int wide = width_of(child, width);
            gtk_widget_size_allocate(child, &(GtkAllocation){x, y, wide, tall}, -1);
            x += wide + GAP;
        }
    }
}

static void stand_flow_class_init(StandFlowClass *class)
{
    GtkLayoutManagerClass *manager = GTK_LAYOUT_MANAGER_CLASS(class);
    manager->get_request_mode = flow_mode;
    manager->measure = flow_measure;
    manager->allocate = flow_allocate;
}

static void stand_flow_init(StandFlow *flow) {}

GtkWidget *stand_flow_new(void)
{
    GtkWidget *box = gtk_box_new(GTK_ORIENTATION_HORIZONTAL, 0);
    gtk_widget_set_layout_manager(box, g_object_new(stand_flow_get_type(), NULL));
    return box;
}

struct _StandColumn {
    GtkLayoutManager parent;
};
G_DEFINE_FINAL_TYPE(StandColumn, stand_column, GTK_TYPE_LAYOUT_MANAGER)

static void column_measure(GtkLayoutManager *manager, GtkWidget *widget, GtkOrientation orientation,
                           int for_size, int *least, int *natural, int *least_base, int *natural_base)
{
    *least = *natural = 0;
    for (GtkWidget *child = gtk_widget_get_first_child(widget); child;
         child = gtk_widget_get_next_sibling(child)) {
        int small;
        gtk_widget_measure(child, orientation, -1, &small, NULL, NULL, NULL);
        *least = orientation == GTK_ORIENTATION_VERTICAL ? *least + small : MAX(*least, small);
    }
    *natural = *least;
}

/* What the controls would take in all: a line of words, and what is in the part that scrolls. */
static int wanted_by(GtkWidget *controls, int width)
{
    GtkWidget *line = gtk_widget_get_first_child(controls), *scrolled = gtk_widget_get_last_child(controls);
    int wanted = gtk_widget_should_layout(line) ? height_of(line, width) : 0;
    if (gtk_widget_should_layout(scrolled))
        wanted += height_of(gtk_scrolled_window_get_child(GTK_SCROLLED_WINDOW(scrolled)), width);
    return wanted;
}

static void column_allocate(GtkLayoutManager *manager, GtkWidget *widget, int width, int height, int baseline)
{
    GtkWidget *pages = gtk_widget_get_first_child(widget), *controls = gtk_widget_get_last_child(widget);
    int least, picture, most;
    gtk_widget_measure(pages, GTK_ORIENTATION_VERTICAL, width, &picture, NULL, NULL, NULL);
    most = MIN((int)(height * CONTROLS_MOST), height - picture);
    gtk_widget_measure(controls, GTK_ORIENTATION_VERTICAL, width, &least, NULL, NULL, NULL);
    int tall = MAX(least, MIN(wanted_by(controls, width), most));
    gtk_widget_size_allocate(pages, &(GtkAllocation){0, 0, width, height - tall}, -1);
    gtk_widget_size_allocate(controls, &(GtkAllocation){0, height - tall, width, tall}, -1);
}

static void stand_column_class_init(StandColumnClass *class)
{
    GtkLayoutManagerClass *manager = GTK_LAYOUT_MANAGER_CLASS(class);
    manager->measure = column_measure;
    manager->allocate = column_allocate;
}

static void stand_column_init(StandColumn *column) {}

GtkWidget *stand_column_new(void)
{
    GtkWidget *box = gtk_box_new(GTK_ORIENTATION_VERTICAL, 0);
    gtk_widget_set_layout_manager(box, g_object_new(stand_column_get_type(), NULL));
    return box;
}
