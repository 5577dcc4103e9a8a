/* The music of one staff cut at the bar lines: what every writer of sheets walks through. */
#ifndef SHEET_STRETCH_H
#define SHEET_STRETCH_H

#include "undersong/sheet.h"

/* A stretch of one bar on one staff: a sound (or a part of it), or a rest. */
struct sheet_stretch {
    int32_t from, len; /* ticks from the bar line */
    const struct us_sheet_sound *sound;
    bool begins, ends;  /* the sound begins and ends in this stretch */
    bool triplet;       /* inside a triplet group */
    bool opens, closes; /* the first and the last of its triplet group */
};
enum { STRETCHES_MAX = 256 };

/* One staff; `next` is the walker's own. */
struct sheet_staff {
    const struct us_sheet_sound *sounds;
    size_t count, next;
};

/* The stretches of a bar, without gaps.  Returns how many. */
size_t sheet_stretches(struct sheet_staff *staff, const struct us_sheet_bar *bar,
                       struct sheet_stretch out[STRETCHES_MAX]);
/* Ticks of a full bar. */
int32_t sheet_full_bar(struct us_metre metre);

#endif
