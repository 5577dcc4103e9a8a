#include "undersong/gaps.h"

/* A stream that has just begun has gaps that nobody can help. */
#define BEGINNING_NS INT64_C(3000000000)
#define WINDOW_NS INT64_C(20000000000)
enum { TOO_MANY = 3 };

void us_gaps_begin(struct us_gaps *gaps, uint32_t underflows, int64_t now_ns)
{
    gaps->seen = underflows;
    gaps->began_ns = now_ns;
    gaps->count = 0;
}

bool us_gaps_tell(struct us_gaps *gaps, uint32_t underflows, int64_t now_ns)
{
    bool more = underflows != gaps->seen;
    gaps->seen = underflows;
    if (!more || gaps->told || now_ns - gaps->began_ns < BEGINNING_NS) return false;
    if (!gaps->count || now_ns - gaps->window_ns > WINDOW_NS) {
        gaps->window_ns = now_ns;
        gaps->count = 0;
    }
    gaps->told = ++gaps->count >= TOO_MANY;
    return gaps->told;
}
