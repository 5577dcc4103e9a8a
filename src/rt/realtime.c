#include "undersong/realtime.h"

#include "realtime_rtkit.h"

#include <errno.h>
#include <sched.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>
#include <sys/mman.h>
#include <sys/resource.h>

enum { PRIORITY = 20 };

bool us_realtime_raise(pid_t tid, char *why, size_t size)
{
    struct sched_param p = {.sched_priority = PRIORITY};
    if (size) *why = 0;
    if (sched_setscheduler(tid, SCHED_FIFO | SCHED_RESET_ON_FORK, &p) == 0) return true;
    int refused = errno;
    if (rtkit_raise(tid, PRIORITY)) return true;
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
