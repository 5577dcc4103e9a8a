/* rtkit, which may raise a thread's priority where the thread itself may not. */
#ifndef REALTIME_RTKIT_H
#define REALTIME_RTKIT_H

#include <stdbool.h>
#include <sys/types.h>

/* Asks for SCHED_FIFO at `priority`; false where nobody grants it, or the build has no D-Bus.  Takes up to
   half a second. */
bool rtkit_raise(pid_t tid, int priority);

#endif
