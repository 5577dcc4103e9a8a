/* The signs of music in names, and names that must be cut.  Pure; any thread. */
#ifndef UNDERSONG_SIGNS_H
#define UNDERSONG_SIGNS_H

#include <stdbool.h>
#include <stddef.h>

/* `text` with the signs of engraving for the # and b of names of notes, keys, chords and steps ("Bb", "F#m",
   "bVII", "#4") and for the o of numerals ("viio"), alone or among other words, in UTF-8; cut to `size` bytes
   (at least 4) between two letters.  Returns `out`. */
const char *us_write_signs(const char *text, char *out, size_t size);
/* As many whole letters of `text` (UTF-8; NULL is "") as `size` bytes have room for.  Returns `out`. */
char *us_cut_text(const char *text, char *out, size_t size);

#endif
