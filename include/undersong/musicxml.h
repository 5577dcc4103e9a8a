/* Tunes in MusicXML 4.0 (W3C Music Notation Community Group): one melody, and a second voice where there is
   one.  Any thread.  Neither network nor outside entities are touched. */
#ifndef UNDERSONG_MUSICXML_H
#define UNDERSONG_MUSICXML_H

#include <stdio.h>

#include "undersong/tune_file.h"

/* Reads a score, by part or by measure, from `size` bytes: the first voice of the first part is the melody
   (of notes struck together the highest), its next voice or else the next part's first is the second voice.
   Repeats and endings are played out, ties joined, grace and cue notes dropped; transposing parts are read as
   they sound.  `name` stands for the file in messages, `name:line`.  On failure `out` owns nothing. */
US_WARN_UNUSED enum us_status us_musicxml_read(const char *text, size_t size, const char *name,
                                               struct us_tune_file *out, struct us_error *error);
/* The same from a compressed score (.mxl): the first root file that its container names. */
US_WARN_UNUSED enum us_status us_mxl_read(const void *bytes, size_t size, const char *name,
                                          struct us_tune_file *out, struct us_error *error);
/* Writes the tune: what us_musicxml_read reads from it is played the same.  Repeats stand and errors are told
   as by us_abc_write. */
US_WARN_UNUSED enum us_status us_musicxml_write(const struct us_tune *tune, FILE *to, struct us_error *error);
/* The same compressed, as the bytes of an .mxl file; the caller frees them. */
US_WARN_UNUSED enum us_status us_mxl_bytes(const struct us_tune *tune, void **bytes, size_t *size,
                                           struct us_error *error);
/* A score as MusicXML text, packed into the bytes of an .mxl file; the caller frees them.
   US_STATUS_NO_MEMORY, or US_STATUS_BAD_INPUT in a build without libzip. */
US_WARN_UNUSED enum us_status us_mxl_pack(const char *score, size_t score_size, void **bytes, size_t *size,
                                          struct us_error *error);

#endif
