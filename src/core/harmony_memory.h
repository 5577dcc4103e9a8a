/* Strains that come back, in this run or since practice began, in any key. */
#ifndef UNDERSONG_HARMONY_MEMORY_H
#define UNDERSONG_HARMONY_MEMORY_H

#include "undersong/harmony.h"

/* The player starts anew: what follows does not continue the last strain. */
void us_memory_fresh(struct us_strain_memory *m);
/* One more beat.  `lead` says how it begins, `tail_before` how the beat before went on. */
void us_memory_beat(struct us_strain_memory *m, uint32_t lead, uint32_t tail_before);
/* The role that this beat had when the strain was heard before; returns how much that should
   count, 0 where nothing is recalled. */
float us_memory_recall(const struct us_strain_memory *m, float role[3]);
/* This beat's role, or that of `back` beats ago as it looks now; `settled` is for good, in hindsight: then
   what is not settled changes it no more. */
void us_memory_judge(struct us_strain_memory *m, uint32_t back, const float role[3], bool settled);

#endif
