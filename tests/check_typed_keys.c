#include "support.h"

#include "undersong/typed_keys.h"

#include <pty.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

/* The two rows are a piano: a chromatic scale from C, white keys on the lower row. */
START_TEST(two_rows)
{
    static const char SCALE[] = "awsedftgyhuj", WHITE[] = "asdfghj";
    for (int i = 0; i < 12; i++) {
        struct us_typed_meaning m = us_typed_meaning((unsigned char)SCALE[i]);
        ck_assert(m.what == US_TYPED_NOTE && m.value == i);
        bool white = (1 << i) & 0xAB5; /* C D E F G A B */
        ck_assert(white == (strchr(WHITE, SCALE[i]) != NULL));
    }
    ck_assert_int_eq(us_typed_meaning(' ').control, US_CONTROL_NEXT_TEXTURE);
    ck_assert_int_eq(us_typed_meaning(27).what, US_TYPED_PANIC);
    ck_assert_int_eq(us_typed_meaning(0).what, US_TYPED_NOTHING);
    ck_assert_int_eq(us_typed_meaning('A').what, US_TYPED_NOTHING);
}
END_TEST

struct rig {
    int master, slave;
    struct us_typed_keys keys;
    struct us_source source;
};

static void set_up(struct rig *r)
{
    struct us_error error;
    ck_assert_int_eq(openpty(&r->master, &r->slave, NULL, NULL, NULL), 0);
    ck_assert_int_eq(us_typed_keys_init(&r->keys, r->slave, true, &error), US_STATUS_OK);
    r->source = us_typed_keys_source(&r->keys);
}

static int type(struct rig *r, const char *text, int64_t ms, struct us_event *out)
{
    if (*text) ck_assert_int_eq(write(r->master, text, strlen(text)), (ssize_t)strlen(text));
    struct pollfd fd;
    ck_assert_int_eq(r->source.fds(r->source.self, &fd), 1);
    if (*text) ck_assert_int_eq(poll(&fd, 1, 1000), 1);
    return r->source.read(r->source.self, ms * 1000000, out);
}

START_TEST(notes_end)
{
    struct rig r;
    struct us_event e[US_SOURCE_EVENTS_MAX];
    set_up(&r);
    ck_assert_int_eq(type(&r, "a", 0, e), 1);
    ck_assert(e[0].kind == US_EVENT_NOTE_ON && e[0].pitch == 60);
    ck_assert_int_eq(type(&r, "d", 300, e), 2); /* the next key releases the one before */
    ck_assert(e[0].kind == US_EVENT_NOTE_OFF && e[0].pitch == 60 && e[1].pitch == 64);
    for (int64_t ms = 800; ms < 2000; ms += 33) { /* held: the terminal repeats it */
        int count = type(&r, "d", ms, e);
        ck_assert_msg(ms == 800 ? count == 2 : count == 0, "at %d: %d", (int)ms, count);
    }
    ck_assert_int_eq(r.source.due(r.source.self, 0), (int64_t)1988 * 1000000 + US_TYPED_HOLD_NS);
    ck_assert_int_eq(type(&r, "", 2000, e), 0);
    ck_assert_int_eq(type(&r, "", 3000, e), 1); /* let go */
    ck_assert(e[0].kind == US_EVENT_NOTE_OFF && e[0].pitch == 64);
    ck_assert_int_eq(r.source.due(r.source.self, 0), INT64_MAX);
    us_typed_keys_finish(&r.keys);
}
END_TEST

START_TEST(controls)
{
    struct rig r;
    struct us_event e[US_SOURCE_EVENTS_MAX];
    set_up(&r);
    ck_assert_int_eq(type(&r, " ", 0, e), 1);
    ck_assert(e[0].kind == US_EVENT_CONTROL && e[0].control == US_CONTROL_NEXT_TEXTURE);
    ck_assert_int_eq(type(&r, "\t", 0, e), 1);
    ck_assert(e[0].control == US_CONTROL_KEY_LOCK && e[0].value == 2);
    ck_assert_int_eq(type(&r, "\r", 0, e), 1);
    ck_assert(e[0].control == US_CONTROL_LEFT_HAND && e[0].value == 2);
    ck_assert_int_eq(type(&r, "xxxxza", 0, e), 1); /* at most two octaves up, then one down */
    ck_assert_int_eq(e[0].pitch, 72);
    ck_assert_int_eq(type(&r, "\033[A", 1, e), 0); /* a cursor key is no escape */
    ck_assert_int_eq(type(&r, "\033", 2, e), 1);
    ck_assert_int_eq(e[0].kind, US_EVENT_PANIC);
    us_typed_keys_finish(&r.keys);
}
END_TEST

static bool is_raw(int fd)
{
    struct termios t;
    ck_assert_int_eq(tcgetattr(fd, &t), 0);
    return !(t.c_lflag & ICANON) && !(t.c_lflag & ECHO);
}

/* The terminal is as before after a proper end, after exit() and after a crash. */
START_TEST(the_terminal_comes_back)
{
    for (int way = 0; way < 3; way++) {
        int master, slave;
        ck_assert_int_eq(openpty(&master, &slave, NULL, NULL, NULL), 0);
        ck_assert(!is_raw(slave));
        pid_t child = fork();
        if (!child) {
            struct us_typed_keys k;
            struct us_error error;
            if (us_typed_keys_init(&k, slave, true, &error) || !is_raw(slave)) _exit(9);
            if (way == 0) us_typed_keys_finish(&k), _exit(0);
            if (way == 1) exit(0);
            abort();
        }
        int status;
        waitpid(child, &status, 0);
        ck_assert(way == 2 ? WIFSIGNALED(status) : WIFEXITED(status) && WEXITSTATUS(status) == 0);
        ck_assert_msg(!is_raw(slave), "way %d", way);
        close(master);
        close(slave);
    }
}
END_TEST

/* A terminal that goes away: told once, and then it asks for no more wake-ups. */
START_TEST(the_terminal_goes)
{
    struct rig r;
    struct us_event e[US_SOURCE_EVENTS_MAX];
    struct pollfd fd;
    set_up(&r);
    ck_assert_int_eq(type(&r, "a", 0, e), 1);
    close(r.master);
    int count = 0;
    for (int i = 0; i < 5 && count != US_SOURCE_ENDED; i++)
        count = r.source.read(r.source.self, 1000000000, e);
    ck_assert_int_eq(count, US_SOURCE_ENDED);
    ck_assert_int_eq(r.source.due(r.source.self, 0), INT64_MAX);
    ck_assert_int_eq(r.source.fds(r.source.self, &fd), 0);
}
END_TEST

START_TEST(no_terminal)
{
    struct us_typed_keys k;
    struct us_error error;
    int fds[2];
    ck_assert_int_eq(pipe(fds), 0);
    ck_assert_int_eq(us_typed_keys_init(&k, fds[0], true, &error), US_STATUS_BAD_INPUT);
    ck_assert(strstr(error.text, "terminal"));
}
END_TEST

int main(void)
{
    const TTest *const TESTS[] = {two_rows,          notes_end,  controls, the_terminal_comes_back,
                                  the_terminal_goes, no_terminal};
    return RUN_TESTS("typed_keys", TESTS);
}
