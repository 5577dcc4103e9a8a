/* What `undersong play` was asked for. */
#ifndef APP_PLAY_SETTINGS_H
#define APP_PLAY_SETTINGS_H

#include "options.h"
#include "undersong/companion.h"

/* --texture auto: the patch's own. */
enum { PLAY_TEXTURE_OPEN = 0 };

struct play_settings {
    const char *from;
    struct text_list to;
    bool virtual_time;
    int texture, chords, change;
    struct us_key key;
    struct us_metre metre;
    double pickup;
    const char *tune, *songbook, *second_voice, *share, *drill, *phrase;
    struct us_key sound_in;
    const char *keyboard_transpose;
    const char *patch, *keep, *syllables, *audio, *sound_font, *switch_key, *channel;
    double level;
    bool built_in, mark_beats, quiet, clock;
    bool left_hand_off; /* not of the command line, but of a window that remembers */
};

/* Turns the words of the command line into the companion's settings. */
enum us_status play_companion_settings(const struct play_settings *play, struct us_companion_settings *out,
                                       struct us_error *error) US_WARN_UNUSED;

#endif
