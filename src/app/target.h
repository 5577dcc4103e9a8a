/* Where a command writes: --to as a file or a folder, and what the ending of a file says. */
#ifndef APP_TARGET_H
#define APP_TARGET_H

#include <stdbool.h>
#include <stddef.h>

#include "inputs.h"

/* The format whose ending `to` has, of `count`; .mxl and .xml have the one of .musicxml, .midi that of .mid.
   `fallback` where it has none. */
int target_format(const char *to, const char *const *endings, int count, int fallback);
/* Whether `to` is a folder, each tune a file of its own.  Several tunes have it made where it is missing. */
enum us_status target_folder(const char *to, size_t tunes, bool *folder,
                             struct us_error *error) US_WARN_UNUSED;
/* FOLDER/NAME.ending for an input PATH/NAME.x of `inputs`; just NAME.ending where `folder` is NULL.  Where an
   earlier input has the same name but for its own ending, NAME.x.ending; US_STATUS_BAD_INPUT where that is
   the same too, for neither tune is to overwrite the other. */
enum us_status target_path(const char *folder, const struct inputs *inputs, const char *input,
                           const char *ending, char *out, size_t size, struct us_error *error) US_WARN_UNUSED;
/* Whether two names are those of one file, be it by a link. */
bool target_same(const char *a, const char *b);
/* US_STATUS_BAD_INPUT where what is to be written is the file that was read, or one of those. */
enum us_status target_spares(const char *path, const char *source, struct us_error *error) US_WARN_UNUSED;
enum us_status target_spares_all(const char *path, const struct inputs *inputs,
                                 struct us_error *error) US_WARN_UNUSED;
/* Saves; a score that goes into FILE.mxl is compressed.  `many`: as one of several, see file_save.h. */
enum us_status target_save(const char *path, const char *bytes, size_t size, bool many,
                           struct us_error *error) US_WARN_UNUSED;

#endif
