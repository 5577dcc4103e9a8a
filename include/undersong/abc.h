/* Tunes in abc notation (abc standard 2.1, abcnotation.com): one melody, and a second voice where there is
   one. Any thread. */
#ifndef UNDERSONG_ABC_H
#define UNDERSONG_ABC_H

#include <stdio.h>

#include "undersong/tune_file.h"

/* Reads the tune with reference number `number` (0: the first) from `size` bytes of text.  `name` stands for
   the file in messages.  Repeats and endings are played out, ties joined, grace notes dropped, chord symbols
   last until the next.  On failure `out` owns nothing; the message says `name:line`. */
US_WARN_UNUSED enum us_status us_abc_read(const char *text, size_t size, const char *name, int number,
                                          struct us_tune_file *out, struct us_error *error);
/* Lists the tunes in `text`; see us_tune_list. */
US_WARN_UNUSED enum us_status us_abc_list(const char *text, size_t size, const char *name,
                                          struct us_tune_entry **out, size_t *count, struct us_error *error);
/* Writes the tune as abc 2.1 with reference number `number` (1 where below 1): what us_abc_read reads from it
   is played the same.  Repeats and endings stand as written where the tune's bars tell of them and the notes
   and chords agree, else the tune is written out; off-grid times go to the nearest note value or tuplet.
   US_STATUS_BAD_INPUT where the tune's bars do not follow one another, US_STATUS_NO_MEMORY, or US_STATUS_IO
   where `to` cannot be written. */
US_WARN_UNUSED enum us_status us_abc_write(const struct us_tune *tune, int number, FILE *to,
                                           struct us_error *error);

#endif
