/* Preloaded into the program: the wall clock jumps by hours, back and forth, at every look at it. */
#include <dlfcn.h>
#include <sys/time.h>
#include <time.h>

static time_t jumped(void)
{
    static int looks;
    static const time_t HOURS[] = {0, 5, -9, 2, -1};
    return HOURS[looks++ % 5] * 3600;
}

int clock_gettime(clockid_t clock, struct timespec *now)
{
    static int (*real)(clockid_t, struct timespec *);
    if (!real) *(void **)&real = dlsym(RTLD_NEXT, "clock_gettime");
    int result = real(clock, now);
    if (clock == CLOCK_REALTIME || clock == CLOCK_REALTIME_COARSE) now->tv_sec += jumped();
    return result;
}

time_t time(time_t *now)
{
    struct timespec jumping;
    clock_gettime(CLOCK_REALTIME, &jumping);
    if (now) *now = jumping.tv_sec;
    return jumping.tv_sec;
}

int gettimeofday(struct timeval *restrict now, void *restrict zone)
{
    struct timespec jumping;
    clock_gettime(CLOCK_REALTIME, &jumping);
    *now = (struct timeval){jumping.tv_sec, jumping.tv_nsec / 1000};
    return 0;
}
