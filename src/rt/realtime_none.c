/* A build without D-Bus. */
#include "realtime_rtkit.h"

bool rtkit_raise(pid_t tid, int priority)
{
    (void)tid;
    (void)priority;
    return false;
}
