/* When gaps in the sound are worth a word to the player: not the first, not those of a stream that has just
   begun, and once only.  Pure. */
#ifndef UNDERSONG_GAPS_H
#define UNDERSONG_GAPS_H

#include <stdbool.h>
#include <stdint.h>

struct us_gaps {
    uint32_t seen;     /* underflows by the last look */
    int64_t began_ns;  /* the stream */
    int64_t window_ns; /* when those that are counted together began */
    uint32_t count;
    bool told;
};

/* A stream begins, the first or another one; `underflows` so far. */
void us_gaps_begin(struct us_gaps *gaps, uint32_t underflows, int64_t now_ns);
/* A look, many times a second: there are `underflows` by now.  True once in the life of `gaps`, at the third
   look within twenty seconds that finds more of them: servers report one gap several times over. */
bool us_gaps_tell(struct us_gaps *gaps, uint32_t underflows, int64_t now_ns);

#endif
