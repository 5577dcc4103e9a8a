/* A list of ports to choose from, as it changes while things are plugged in and out.  Pure. */
#ifndef APP_PORT_LIST_H
#define APP_PORT_LIST_H

#include <stdbool.h>

enum { PORT_LIST_MAX = 64, PORT_NAME_SIZE = 128 };

struct port_list {
    struct {
        char name[PORT_NAME_SIZE];  /* what is chosen: "" and "-" are the fixed rows, else a port's name */
        char words[PORT_NAME_SIZE]; /* what is shown */
        bool port;                  /* a port that is there */
    } row[PORT_LIST_MAX];
    int rows, selected;
};

/* Empty. */
void port_list_begin(struct port_list *list);
/* A row that is always there. */
void port_list_fixed(struct port_list *list, const char *name, const char *words);
/* A port that is there now; one of a name that is listed already is left out, as it cannot be told apart. */
void port_list_add(struct port_list *list, const char *name);
/* Selects what was chosen; a port that is not there now is listed as such, so that the choice survives. */
void port_list_select(struct port_list *list, const char *chosen);
/* The same rows and the same selection: nothing needs to be shown anew. */
bool port_list_same(const struct port_list *a, const struct port_list *b);
/* Whether the keyboard that was chosen is there to be opened: "" is any but the system's own through port, a
   name that one, "-" none. */
bool port_list_can_open(const struct port_list *list, const char *chosen);

#endif
