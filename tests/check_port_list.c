#include "support.h"

#include "port_list.h"

#include <stdio.h>
#include <string.h>

/* What is plugged in, as a watcher would tell it. */
static struct port_list refresh(const char *const *plugged, const char *chosen)
{
    struct port_list list;
    port_list_begin(&list);
    port_list_fixed(&list, "", "the first keyboard");
    port_list_fixed(&list, "-", "none");
    for (int i = 0; plugged[i]; i++)
        port_list_add(&list, plugged[i]);
    port_list_select(&list, chosen);
    return list;
}

#define PLUGGED(...) ((const char *const[]){__VA_ARGS__, NULL})

START_TEST(port_list_follows_what_is_plugged_in)
{
    struct port_list l = refresh(PLUGGED(NULL), "");
    ck_assert_int_eq(l.rows, 2);
    ck_assert_int_eq(l.selected, 0);
    l = refresh(PLUGGED("Midi Through Port-0", "Old Piano"), "Old Piano");
    ck_assert_int_eq(l.rows, 4);
    ck_assert_str_eq(l.row[l.selected].words, "Old Piano");
    l = refresh(PLUGGED("Stage Box", "Midi Through Port-0", "Old Piano"), "Old Piano"); /* at another place */
    ck_assert_int_eq(l.selected, 4);
    l = refresh(PLUGGED("Old Piano", "Old Piano"), "-");
    ck_assert_int_eq(l.rows, 3);
    ck_assert_int_eq(l.selected, 1);
}
END_TEST

START_TEST(port_list_keeps_a_choice_that_is_unplugged)
{
    struct port_list before = refresh(PLUGGED("Old Piano"), "Old Piano");
    struct port_list gone = refresh(PLUGGED(NULL), "Old Piano"),
                     again = refresh(PLUGGED("Old Piano"), "Old Piano");
    ck_assert_str_eq(gone.row[gone.selected].name, "Old Piano");
    ck_assert_str_eq(gone.row[gone.selected].words, "Old Piano, not there now");
    ck_assert(!port_list_same(&before, &gone));
    ck_assert(port_list_same(&before, &again));
    ck_assert_int_eq(again.rows, 3); /* not twice */
}
END_TEST

START_TEST(port_list_opens_what_was_waited_for)
{
    static const struct {
        const char *plugged, *chosen;
        bool opens;
    } ROWS[] = {
        {"Old Piano", "", true},
        {"Midi Through Port-0", "", false},
        {"Old Piano", "-", false},
        {"Old Piano", "Old Piano", true},
        {"Stage Box", "Old Piano", false},
        {"Midi Through Port-0", "Midi Through Port-0", true}, /* chosen by name it is meant */
    };
    for (size_t i = 0; i < sizeof ROWS / sizeof *ROWS; i++) {
        struct port_list l = refresh(PLUGGED(ROWS[i].plugged), ROWS[i].chosen);
        ck_assert_msg(port_list_can_open(&l, ROWS[i].chosen) == ROWS[i].opens, "row %zu", i);
    }
    struct port_list none = refresh(PLUGGED(NULL), "Old Piano");
    ck_assert(!port_list_can_open(&none, "Old Piano"));
    ck_assert(!port_list_can_open(&none, ""));
}
END_TEST

/* More ports than rows: the choice is still listed, long names are cut. */
START_TEST(port_list_is_bounded)
{
    struct port_list l;
    char name[300];
    port_list_begin(&l);
    port_list_fixed(&l, "", "any");
    for (int i = 0; i < 200; i++) {
        snprintf(name, sizeof name, "Keyboard %d", i);
        port_list_add(&l, name);
    }
    memset(name, 'k', sizeof name - 1);
    name[sizeof name - 1] = 0;
    port_list_select(&l, name);
    ck_assert_int_eq(l.rows, PORT_LIST_MAX);
    ck_assert_int_eq(l.selected, PORT_LIST_MAX - 1);
    ck_assert_uint_lt(strlen(l.row[l.selected].words), PORT_NAME_SIZE);
}
END_TEST

/* An instrument may be called anything; what is shown is text, what is chosen is its name. */
START_TEST(port_list_shows_text)
{
    struct port_list l = refresh(PLUGGED("Pi\xE9no\n\x1B[2J"), "");
    int last = l.rows - 1;
    ck_assert_str_eq(l.row[last].name, "Pi\xE9no\n\x1B[2J");
    ck_assert_str_eq(l.row[last].words, "Pi?no  [2J");
}
END_TEST

int main(void)
{
    const TTest *const TESTS[] = {port_list_follows_what_is_plugged_in, port_list_shows_text,
                                  port_list_keeps_a_choice_that_is_unplugged,
                                  port_list_opens_what_was_waited_for, port_list_is_bounded};
    return RUN_TESTS("port-list", TESTS);
}
