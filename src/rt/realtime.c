#include "undersong/realtime.h"

#include <dbus/dbus.h>
#include <errno.h>
#include <sched.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>
#include <sys/mman.h>
#include <sys/resource.h>

enum { PRIORITY = 20, CALL_MS = 500 };

/* rtkit wants a limit on how long the thread may run without sleeping, so that it cannot take the machine. */
static void limit_run_time(void)
{
    struct rlimit limit = {.rlim_cur = 200000, .rlim_max = 200000};
    setrlimit(RLIMIT_RTTIME, &limit);
}

static DBusMessage *make_call(pid_t tid)
{
    DBusMessage *call =
        dbus_message_new_method_call("org.freedesktop.RealtimeKit1", "/org/freedesktop/RealtimeKit1",
                                     "org.freedesktop.RealtimeKit1", "MakeThreadRealtime");
    dbus_uint64_t thread = (dbus_uint64_t)tid;
    dbus_uint32_t priority = PRIORITY;
    if (call && !dbus_message_append_args(call, DBUS_TYPE_UINT64, &thread, DBUS_TYPE_UINT32, &priority,
                                          DBUS_TYPE_INVALID)) {
        dbus_message_unref(call);
        call = NULL;
    }
    return call;
}

static bool raise_through_rtkit(pid_t tid)
{
    DBusError error;
    dbus_error_init(&error);
    DBusConnection *bus = dbus_bus_get_private(DBUS_BUS_SYSTEM, &error);
    bool done = false;
    if (bus) {
        dbus_connection_set_exit_on_disconnect(bus, FALSE);
        limit_run_time();
        DBusMessage *call = make_call(tid);
        DBusMessage *reply =
            call ? dbus_connection_send_with_reply_and_block(bus, call, CALL_MS, &error) : NULL;
        done = reply != NULL;
        if (reply) dbus_message_unref(reply);
        if (call) dbus_message_unref(call);
        dbus_connection_close(bus);
        dbus_connection_unref(bus);
    }
    dbus_error_free(&error);
    return done;
}

bool us_realtime_raise(pid_t tid, char *why, size_t size)
{
    struct sched_param p = {.sched_priority = PRIORITY};
    if (size) *why = 0;
    if (sched_setscheduler(tid, SCHED_FIFO | SCHED_RESET_ON_FORK, &p) == 0) return true;
    int refused = errno;
    if (raise_through_rtkit(tid)) return true;
    snprintf(why, size, "%s, and rtkit does not answer", strerror(refused));
    return false;
}

bool us_realtime_lock_memory(void *data, size_t bytes)
{
    /* With a limit, a lock on all that is to come would make later allocations fail. */
    struct rlimit limit, none = {RLIM_INFINITY, RLIM_INFINITY};
    bool unlimited = setrlimit(RLIMIT_MEMLOCK, &none) == 0 ||
                     (getrlimit(RLIMIT_MEMLOCK, &limit) == 0 && limit.rlim_cur == RLIM_INFINITY);
    if (unlimited && mlockall(MCL_CURRENT | MCL_FUTURE | MCL_ONFAULT) == 0) return true;
    return mlock(data, bytes) == 0;
}
