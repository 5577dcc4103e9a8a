/* Clocks, waiting and order for benchmarks. */
#ifndef BENCH_TIME_H
#define BENCH_TIME_H

#include <stdlib.h>
#include <time.h>

/* Microseconds on CLOCK_MONOTONIC, or on CLOCK_THREAD_CPUTIME_ID, where other programs do not count. */
static inline double bench_us(clockid_t clock)
{
    struct timespec t;
    clock_gettime(clock, &t);
    return (double)t.tv_sec * 1e6 + (double)t.tv_nsec / 1e3;
}

static inline void bench_sleep_ms(int ms)
{
    nanosleep(&(struct timespec){.tv_sec = ms / 1000, .tv_nsec = ms % 1000 * 1000000L}, NULL);
}

static inline int bench_order(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

static inline void bench_sort(double *values, size_t count)
{
    qsort(values, count, sizeof *values, bench_order);
}

#endif
