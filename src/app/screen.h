/* The terminal as far as commands care: its width, and a progress bar. */
#ifndef APP_SCREEN_H
#define APP_SCREEN_H

#include <stddef.h>

/* Columns of standard output's screen; 80 where it is none or a very narrow one. */
int screen_width(void);
/* A bar on standard error, `done` of `count`; a line end with the last. */
void screen_progress(size_t done, size_t count);
/* Clears the bar's line, before a message. */
void screen_clear_line(void);

#endif
