/* Tunes in files: ABC, Standard MIDI Files, MusicXML.  Any thread, one file at a time. */
#ifndef UNDERSONG_TUNE_FILE_H
#define UNDERSONG_TUNE_FILE_H

#include "undersong/status.h"
#include "undersong/tune.h"

/* A tune and the arrays it looks at.  Everything in `tune` stays valid until us_tune_file_finish. */
struct us_tune_file {
    struct us_tune tune;
    struct us_note *notes;
    int8_t *spelling;
    struct us_note *second;
    struct us_chord_span *chords;
    struct us_bar *bars;
    struct us_slur *slurs;
    double *lines;
    char *title;
    char *composer;
    int number; /* the tune's reference number in a songbook (X: of abc); 1 elsewhere */
};

/* One entry of a songbook. */
struct us_tune_entry {
    int number;
    char title[128];
};

/* Reads the tune in `path`: .abc, .mid, .midi, .musicxml, .xml, .mxl, or by what the file starts with where
   the name does not say.  Of several tunes it takes the first.  On failure `out` owns nothing and `error`
   says what, where and what to do. */
US_WARN_UNUSED enum us_status us_tune_load(const char *path, struct us_tune_file *out,
                                           struct us_error *error);
/* The same for the tune with that reference number; 0 takes the first. */
US_WARN_UNUSED enum us_status us_tune_load_number(const char *path, int number, struct us_tune_file *out,
                                                  struct us_error *error);
/* Lists the tunes in the file: `*out` is a fresh array for free(), in the file's order. */
US_WARN_UNUSED enum us_status us_tune_list(const char *path, struct us_tune_entry **out, size_t *count,
                                           struct us_error *error);
/* The tune's key as written, else the one that its melody tells.  US_NO_KEY without notes or memory. */
struct us_key us_tune_key(const struct us_tune *tune);

/* Frees what `file` owns and empties it.  NULL and an emptied one are fine. */
void us_tune_file_finish(struct us_tune_file *file);

#endif
