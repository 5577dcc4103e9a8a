/* `play` in real time: a keyboard, the computer's keys, bytes, or a file that is played at its own speed. */
#ifndef APP_PLAY_LIVE_H
#define APP_PLAY_LIVE_H

#include "play_settings.h"

/* Plays until the source ends or a signal (INT, TERM, HUP) comes; returns the exit status. */
int play_live(const struct play_settings *play);

#endif
