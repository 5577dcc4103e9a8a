/* Shared by the parts of the Standard MIDI File reader. */
#ifndef UNDERSONG_SMF_PARTS_H
#define UNDERSONG_SMF_PARTS_H

#include "undersong/smf.h"

/* How a file counts: ticks a quarter, or ticks of time code. */
struct smf_clock {
    int64_t ticks_per_quarter; /* 0: time code */
    int64_t ticks, seconds;    /* time code: so many ticks last so many seconds */
};

/* Reads the header's division; false where it is none. */
bool us_smf_clock_init(struct smf_clock *clock, int division);
/* Merges the tracks and fills in ticks, nanoseconds and quarters of every event. */
enum us_status us_smf_give_times(struct us_smf *smf, struct smf_clock clock, const char *name,
                                 struct us_error *error);

#endif
