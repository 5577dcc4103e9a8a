/* realtime_rtkit: a private D-Bus with a stand-in for rtkit: a thread that may not raise its own priority
   asks for it, names itself and a priority, and is told why where nobody answers.  Prints TAP; skipped
   without dbus-daemon. Source: the interface org.freedesktop.RealtimeKit1 as its introspection data gives it,
   MakeThreadRealtime(t, u). */
#include "undersong/realtime.h"

#include <dbus/dbus.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

static char folder[] = "/tmp/undersong-bus-XXXXXX";

static pid_t start_bus(void)
{
    char path[200];
    snprintf(path, sizeof path, "%s/bus.conf", folder);
    FILE *f = fopen(path, "w");
    if (!f) return -1;
    fprintf(f,
            "<!DOCTYPE busconfig PUBLIC \"-//freedesktop//DTD D-Bus Bus Configuration 1.0//EN\" "
            "\"http://www.freedesktop.org/standards/dbus/1.0/busconfig.dtd\">\n<busconfig><type>system</type>"
            "<listen>unix:path=%s/bus</listen><auth>EXTERNAL</auth><policy context=\"default\"><allow "
            "user=\"*\"/>"
            "<allow own=\"*\"/><allow send_destination=\"*\"/><allow "
            "receive_sender=\"*\"/></policy></busconfig>\n",
            folder);
    fclose(f);
    pid_t pid = fork();
    if (pid == 0) {
        char option[220];
        snprintf(option, sizeof option, "--config-file=%s", path);
        execlp("dbus-daemon", "dbus-daemon", "--nofork", "--nopidfile", option, (char *)NULL);
        _exit(127);
    }
    return pid;
}

/* Answers one call and hands over what it asked for. */
static void stand_in(int ready, int result)
{
    DBusConnection *bus = NULL;
    for (int i = 0; i < 250 && !bus; i++) {
        bus = dbus_bus_get_private(DBUS_BUS_SYSTEM, NULL);
        if (!bus) nanosleep(&(struct timespec){.tv_nsec = 20000000}, NULL);
    }
    if (!bus || dbus_bus_request_name(bus, "org.freedesktop.RealtimeKit1", 0, NULL) < 0) _exit(1);
    if (write(ready, "r", 1) != 1) _exit(1);
    for (;;) {
        DBusMessage *call = dbus_connection_pop_message(bus);
        if (!call && !dbus_connection_read_write(bus, 5000)) break;
        if (!call) continue;
        if (dbus_message_is_method_call(call, "org.freedesktop.RealtimeKit1", "MakeThreadRealtime")) {
            dbus_uint64_t thread = 0;
            dbus_uint32_t priority = 0;
            dbus_message_get_args(call, NULL, DBUS_TYPE_UINT64, &thread, DBUS_TYPE_UINT32, &priority,
                                  DBUS_TYPE_INVALID);
            DBusMessage *reply = dbus_message_new_method_return(call);
            dbus_connection_send(bus, reply, NULL);
            dbus_connection_flush(bus);
            long values[2] = {(long)thread, (long)priority};
            if (write(result, values, sizeof values) != sizeof values) _exit(1);
            _exit(0);
        }
        dbus_message_unref(call);
    }
    _exit(1);
}

/* As an ordinary user: 0 raised, 1 not, with a reason, 2 not, without one. */
static int ask_as_nobody(void)
{
    pid_t pid = fork();
    if (pid == 0) {
        char why[100];
        struct rlimit none = {0, 0};
        setrlimit(RLIMIT_RTPRIO, &none);
        if (geteuid() == 0 && setuid(65534)) _exit(3);
        if (us_realtime_raise(getpid(), why, sizeof why)) _exit(0);
        _exit(strstr(why, "rtkit") ? 1 : 2);
    }
    int status;
    waitpid(pid, &status, 0);
    return WIFEXITED(status) ? WEXITSTATUS(status) | (int)pid << 8 : -1;
}

static int failed;
static void tell(int number, bool good, const char *what)
{
    failed += !good;
    printf("%s %d - %s\n", good ? "ok" : "not ok", number, what);
}

int main(void)
{
    char address[200], byte;
    int ready[2], result[2];
    if (system("command -v dbus-daemon >/dev/null") != 0) {
        puts("1..0 # SKIP dbus-daemon is not installed");
        return 0;
    }
    if (!mkdtemp(folder) || chmod(folder, 0755) || pipe(ready) || pipe(result)) return 1;
    snprintf(address, sizeof address, "unix:path=%s/bus", folder);
    setenv("DBUS_SYSTEM_BUS_ADDRESS", address, 1);
    puts("1..3");
    tell(1, (ask_as_nobody() & 255) == 1, "nobody answers: not raised, and the reason is told");
    pid_t bus = start_bus(), helper = fork();
    if (helper == 0) stand_in(ready[1], result[1]);
    close(ready[1]);
    close(result[1]);
    bool is_up = read(ready[0], &byte, 1) == 1;
    int answer = is_up ? ask_as_nobody() : -1;
    tell(2, is_up && (answer & 255) == 0, "raised through rtkit");
    long values[2] = {0, 0};
    bool got = is_up && read(result[0], values, sizeof values) == sizeof values;
    tell(3, got && values[0] == answer >> 8 && values[1] >= 1 && values[1] <= 99,
         "the thread and a priority were named");
    kill(helper, SIGKILL);
    kill(bus, SIGTERM);
    while (wait(NULL) > 0)
        ;
    char command[300];
    snprintf(command, sizeof command, "rm -rf %s", folder);
    return system(command) || failed ? 1 : 0;
}
