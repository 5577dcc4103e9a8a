/* The tunes that a command is to read: files as named, and the tunes of the folders named. */
#ifndef APP_INPUTS_H
#define APP_INPUTS_H

#include "options.h"

struct inputs {
    char **paths;
    size_t count;
};

/* Folders give their .abc, .mid, .midi, .musicxml, .xml and .mxl files by name, folders inside not.  A word
   that names nothing is kept, so that reading it tells.  US_STATUS_BAD_INPUT where there is no tune at all.
 */
enum us_status inputs_collect(const struct text_list *words, struct inputs *inputs,
                              struct us_error *error) US_WARN_UNUSED;
void inputs_finish(struct inputs *inputs);

#endif
