/* From playing to the page: note values for notes that were played freely.  Any thread. */
#ifndef UNDERSONG_STRAIGHTEN_H
#define UNDERSONG_STRAIGHTEN_H

#include "undersong/tune_file.h"

/* A longer performance is left as it is. */
enum { US_STRAIGHTEN_NOTES_MAX = 20000 };

/* Whether the tune was played freely: it has no bars of its own and most of its notes start off the
   sixteenths and triplets of the file's quarters. */
bool us_tune_is_free(const struct us_tune *tune);

/* Gives each note the value, from a sixteenth to six quarters, that goes best with a tempo that changes
   slowly, and puts the notes where these values lead; waiting before a note is taken out, and short gaps
   between notes are touch, not rests.  The tempo becomes the one that was found; chords, which have no place
   any more, are dropped.  A tune that is not free stays untouched.  US_STATUS_NO_MEMORY on failure. */
US_WARN_UNUSED enum us_status us_tune_straighten(struct us_tune_file *file, struct us_error *error);

#endif
