/* The RealtimeKit1 D-Bus interface. */
#include "realtime_rtkit.h"

#include <dbus/dbus.h>
#include <sys/resource.h>

enum { CALL_MS = 500 };

/* rtkit wants a limit on how long the thread may run without sleeping, so that it cannot take the machine. */
static void limit_run_time(void)
{
    struct rlimit limit = {.rlim_cur = 200000, .rlim_max = 200000};
    setrlimit(RLIMIT_RTTIME, &limit);
}

static DBusMessage *make_call(pid_t tid, int wanted)
{
    DBusMessage *call =
        dbus_message_new_method_call("org.freedesktop.RealtimeKit1", "/org/freedesktop/RealtimeKit1",
                                     "org.freedesktop.RealtimeKit1", "MakeThreadRealtime");
    dbus_uint64_t thread = (dbus_uint64_t)tid;
    dbus_uint32_t priority = (dbus_uint32_t)wanted;
    if (call && !dbus_message_append_args(call, DBUS_TYPE_UINT64, &thread, DBUS_TYPE_UINT32, &priority,
                                          DBUS_TYPE_INVALID)) {
        dbus_message_unref(call);
        call = NULL;
    }
    return call;
}

bool rtkit_raise(pid_t tid, int priority)
{
    DBusError error;
    dbus_error_init(&error);
    DBusConnection *bus = dbus_bus_get_private(DBUS_BUS_SYSTEM, &error);
    bool done = false;
    if (bus) {
        dbus_connection_set_exit_on_disconnect(bus, FALSE);
        limit_run_time();
        DBusMessage *call = make_call(tid, priority);
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
