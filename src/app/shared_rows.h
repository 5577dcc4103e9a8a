/* The option rows that several commands share, so that the same words mean the same everywhere.  `at` is the
   value's offset inside the command's own settings. */
#ifndef APP_SHARED_ROWS_H
#define APP_SHARED_ROWS_H

#include "names.h"
#include "options.h"

/* Where the key and the metre come from when the user gives none. */
#define FROM_THE_TUNE "takes the written one or finds it"
#define FROM_THE_PLAYER "listens for it"

#define KEY_ROW(at, whence)                                                                                  \
    {                                                                                                        \
        .name = "key", .type = OPTION_KEY, .offset = (at), .argument = "KEY", .allow_auto = true,            \
        .fallback = "auto", .help = "the key: G, Bb, Em, D dorian; auto " whence                             \
    }
#define METRE_ROW(at, whence)                                                                                \
    {                                                                                                        \
        .name = "metre", .type = OPTION_METRE, .offset = (at), .argument = "METRE", .allow_auto = true,      \
        .fallback = "auto", .help = "the metre: 3/4, 4/4, 6/8; auto " whence                                 \
    }
#define PICKUP_ROW(at)                                                                                       \
    {                                                                                                        \
        .name = "pickup", .type = OPTION_NUMBER, .offset = (at), .argument = "QUARTERS", .low = 0,           \
        .high = 16, .allow_auto = true, .fallback = "auto",                                                  \
        .help = "quarter notes before the first bar line"                                                    \
    }
#define CHORDS_ROW(at)                                                                                       \
    {                                                                                                        \
        .name = "chords", .type = OPTION_CHOICE, .offset = (at), .choices = names_of_chords,                 \
        .fallback = "primary", .help = "which chords are allowed: I alone; I, IV and V; or all of the key's" \
    }
#define CHANGE_ROW(at)                                                                                       \
    {                                                                                                        \
        .name = "change", .type = OPTION_CHOICE, .offset = (at), .choices = names_of_change,                 \
        .fallback = "auto", .help = "how often a chord may change"                                           \
    }
#define NUMBER_ROW(at)                                                                                       \
    {                                                                                                        \
        .name = "number", .type = OPTION_INT, .offset = (at), .argument = "N", .low = 0, .high = 1000000,    \
        .fallback = "0", .help = "which tune of a songbook: its X: number; 0 takes the first"                \
    }
#define TO_PATH_ROW(at)                                                                                      \
    {                                                                                                        \
        .name = "to", .type = OPTION_TEXT, .offset = (at), .argument = "PATH",                               \
        .help = "the file to write, or with several tunes the folder, which is made where it is missing; a " \
                "file that ends in .mxl is compressed MusicXML"                                              \
    }

#endif
