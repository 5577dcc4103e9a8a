/* From the events of a MIDI file to one voice of notes in quarters. */
#ifndef UNDERSONG_SMF_MELODY_H
#define UNDERSONG_SMF_MELODY_H

#include "undersong/smf_tune.h"

/* The melody's notes as the file has them, by time, at most smf->count; returns how many. */
size_t us_smf_collect(const struct us_smf *smf, struct us_smf_melody melody, struct us_note *notes);
/* Rounds starts and lengths where the notes keep to a grid. */
void us_smf_to_grid(struct us_note *notes, size_t count, int ticks_per_quarter);
/* Leaves one voice, in place: the highest note wins; returns how many are left. */
size_t us_smf_one_voice(struct us_note *notes, size_t count);

#endif
