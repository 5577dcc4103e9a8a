/* The monotonic clock that every thread reads. */
#ifndef UNDERSONG_CLOCK_H
#define UNDERSONG_CLOCK_H

#include <stdint.h>

/* CLOCK_MONOTONIC in nanoseconds: never set, never runs back (POSIX.1-2017, clock_gettime). Any thread. */
int64_t us_clock_ns(void);

#endif
