/* Asking the system for what live playing needs: a priority above ordinary work, and memory that stays. */
#ifndef UNDERSONG_REALTIME_H
#define UNDERSONG_REALTIME_H

#include <stdbool.h>
#include <stddef.h>
#include <sys/types.h>

/* Raises the thread `tid` (gettid()) to SCHED_FIFO, by itself or through rtkit (the RealtimeKit1 D-Bus
   interface). False where neither is allowed, with the reason in `why`.  Takes up to a second; not on the
   thread itself while it plays. */
bool us_realtime_raise(pid_t tid, char *why, size_t size);

/* Locks all memory where the limit allows it for good, else only `data` (`bytes`); pages that are not used
   stay unused.  False where nothing could be locked. */
bool us_realtime_lock_memory(void *data, size_t bytes);

#endif
