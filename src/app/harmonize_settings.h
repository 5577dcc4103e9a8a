/* What `undersong harmonize` was asked for. */
#ifndef APP_HARMONIZE_SETTINGS_H
#define APP_HARMONIZE_SETTINGS_H

#include "options.h"
#include "undersong/harmony.h"
#include "undersong/texture.h"

enum harmonize_format {
    FORMAT_TEXT,
    FORMAT_JSON,
    FORMAT_ABC,
    FORMAT_MUSICXML,
    FORMAT_MIDI,
    FORMAT_LILYPOND,
    FORMAT_AUTO
};

struct harmonize_settings {
    struct text_list files;
    int format, chords, change, texture, syllables;
    struct us_key key, sound_in;
    struct us_metre metre;
    double pickup;
    int alternatives, number;
    bool simplify, afresh, compare, built_in;
    struct text_list choose;
    const char *to, *learn_from;
};

#endif
