#include "names.h"

#include <stddef.h>

const char *const names_of_texture_or_auto[] = {"auto",  "block", "fifths", "root-run", "broken",
                                                "waltz", "drone", "roots",  NULL};
const char *const names_of_chords[] = {"I", "primary", "wide", NULL};
const char *const names_of_change[] = {"auto", "bar", "half", "beat", NULL};
