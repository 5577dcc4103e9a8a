/* The signs of one bar: notes and rests of lengths that have a note head, with ties and tuplets. */
#ifndef LAYOUT_H
#define LAYOUT_H

#include "written.h"

enum { US_REST = -1 };

struct us_sign {
    int64_t at;
    int64_t len;                /* in ticks, as it sounds */
    int64_t face;               /* in ticks, as its head says: longer or shorter than `len` in a tuplet */
    int16_t pitch;              /* or US_REST */
    int8_t spelling;            /* place on the line of fifths */
    uint8_t flags;              /* enum us_written_flag */
    bool tied_from;             /* the end of a tie */
    uint8_t tuplet_p, tuplet_q; /* p in the time of q; 0 outside tuplets */
    uint8_t tuplet_count;       /* on the first sign of a tuplet: how many signs it has */
    bool tuplet_last;
};

/* Reusable; all zero at first. */
struct us_signs {
    struct us_sign *list;
    size_t count, room;
};

/* Lays out bar `bar` of `voice` into `signs` (what was there is dropped).  Long notes are cut at the bar's
   beats; with `cut_at_chords` also where a chord changes under a held note.  False when memory ends. */
bool us_layout_bar(const struct us_written *written, size_t bar, int voice, bool cut_at_chords,
                   struct us_signs *signs);
void us_signs_finish(struct us_signs *signs);

/* The head of a face: `*quarters` of a quarter note as a power of two (4 whole, 0.25 sixteenth) and how many
   dots; false where no head fits. */
bool us_face_head(int64_t face, double *quarters, int *dots);

#endif
