/* The window for the music stand. */
#ifndef APP_STAND_H
#define APP_STAND_H

#include "options.h"

enum { STAND_THEME_REMEMBERED, STAND_THEME_LIGHT, STAND_THEME_DARK };

struct stand_settings {
    const char *picture, *from, *size, *tune, *dump_scene, *audio, *second_voice;
    struct text_list to;
    double seconds, text_scale;
    int width, height; /* read from `size` */
    int theme, syllables;
    bool full_screen, built_in;
};

/* Opens the window and returns the exit status when it is closed; in a build without GTK an error. */
int stand_window(const struct stand_settings *settings);

#endif
