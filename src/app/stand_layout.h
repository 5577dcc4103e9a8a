/* How the window shares out its room. */
#ifndef APP_STAND_LAYOUT_H
#define APP_STAND_LAYOUT_H

#include <gtk/gtk.h>

G_DECLARE_FINAL_TYPE(StandFlow, stand_flow, STAND, FLOW, GtkLayoutManager)
G_DECLARE_FINAL_TYPE(StandColumn, stand_column, STAND, COLUMN, GtkLayoutManager)

/* A box whose children stand side by side, in as many rows as they need. */
GtkWidget *stand_flow_new(void);
/* A box for two: the picture, and below it the controls - a line of words above a scrolled window -, which
   take what they need up to half of the height and a little more. */
GtkWidget *stand_column_new(void);

#endif
