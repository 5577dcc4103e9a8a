/* What a teacher's own tunes have taught: tables kept in the user's data folder, and how they get there. */
#ifndef APP_LEARNED_H
#define APP_LEARNED_H

#include "inputs.h"
#include "undersong/harmony.h"

/* The tables kept there, on the heap for free(); `*tables` is NULL where none are kept.  A file that is there
   but broken is an error. */
enum us_status learned_load(struct us_harmony_tables **tables, struct us_error *error) US_WARN_UNUSED;
/* Learns from the tunes of the folder that have chords written in them and keeps the result; prints what it
   did.  Returns the exit status. */
int learn_from_folder(const char *folder);

#endif
