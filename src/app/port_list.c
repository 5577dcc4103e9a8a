#include "port_list.h"

#include "undersong/midi_names.h"
#include "undersong/plain_line.h"

#include <stdio.h>
#include <string.h>

void port_list_begin(struct port_list *list)
{
    memset(list, 0, sizeof *list);
}

static int find(const struct port_list *list, const char *name)
{
    for (int i = 0; i < list->rows; i++)
        if (strcmp(list->row[i].name, name) == 0) return i;
    return -1;
}

static void append(struct port_list *list, const char *name, const char *words, bool port)
{
    if (list->rows == PORT_LIST_MAX) return;
    snprintf(list->row[list->rows].name, PORT_NAME_SIZE, "%s", name);
    us_plain_line(words, list->row[list->rows].words, PORT_NAME_SIZE);
    list->row[list->rows++].port = port;
}

void port_list_fixed(struct port_list *list, const char *name, const char *words)
{
    append(list, name, words, false);
}

void port_list_add(struct port_list *list, const char *name)
{
    if (find(list, name) < 0 && list->rows < PORT_LIST_MAX - 1) append(list, name, name, true);
}

void port_list_select(struct port_list *list, const char *chosen)
{
    list->selected = find(list, chosen);
    if (list->selected >= 0) return;
    char words[PORT_NAME_SIZE];
    snprintf(words, sizeof words, "%.100s, not there now", chosen);
    append(list, chosen, words, false);
    list->selected = list->rows - 1;
}

bool port_list_same(const struct port_list *a, const struct port_list *b)
{
    return memcmp(a, b, sizeof *a) == 0;
}

bool port_list_can_open(const struct port_list *list, const char *chosen)
{
    for (int i = 0; i < list->rows; i++) {
        if (!list->row[i].port) continue;
        if (*chosen ? strcmp(list->row[i].name, chosen) == 0 : !us_midi_is_through(list->row[i].name))
            return true;
    }
    return false;
}
