#include "screen.h"

#include <stdbool.h>
#include <stdio.h>
#include <string.h>
#include <sys/ioctl.h>
#include <unistd.h>

int screen_width(void)
{
    struct winsize size;
    bool known = isatty(STDOUT_FILENO) && ioctl(STDOUT_FILENO, TIOCGWINSZ, &size) == 0 && size.ws_col >= 20;
    return known ? size.ws_col : 80;
}

void screen_progress(size_t done, size_t count)
{
    enum { WIDTH = 40 };
    char bar[WIDTH + 1];
    memset(bar, '.', WIDTH);
    memset(bar, '#', done * WIDTH / count);
    bar[WIDTH] = 0;
    fprintf(stderr, "\r%s %zu of %zu", bar, done, count);
    if (done == count) fputs("\n", stderr);
}

void screen_clear_line(void)
{
    fputs("\r\033[K", stderr);
}
