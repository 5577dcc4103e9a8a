#include "undersong/plain_line.h"

#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

size_t us_utf8_length(const char *text)
{
    const unsigned char *b = (const unsigned char *)text;
    size_t length = b[0] < 0x80   ? 1
                    : b[0] < 0xC2 ? 0
                    : b[0] < 0xE0 ? 2
                    : b[0] < 0xF0 ? 3
                    : b[0] < 0xF5 ? 4
                                  : 0;
    for (size_t i = 1; i < length; i++)
        if ((b[i] & 0xC0) != 0x80) return 0;
    if (length == 3 && ((b[0] == 0xE0 && b[1] < 0xA0) || (b[0] == 0xED && b[1] > 0x9F))) return 0;
    if (length == 4 && ((b[0] == 0xF0 && b[1] < 0x90) || (b[0] == 0xF4 && b[1] > 0x8F))) return 0;
    return length;
}

/* Also U+0080 to U+009F: to a terminal the second of them is as good as escape and a bracket. */
static bool is_control(const char *text, size_t length)
{
    const unsigned char *b = (const unsigned char *)text;
    return length == 1 ? b[0] < ' ' || b[0] == 0x7F : length == 2 && b[0] == 0xC2 && b[1] < 0xA0;
}

char *us_plain_line(const char *text, char *out, size_t size)
{
    size_t n = 0;
    while (*text) {
        size_t length = us_utf8_length(text), bytes = length ? length : 1;
        bool whole = length && !is_control(text, length);
        size_t room = whole ? bytes : 1;
        if (n + room >= size) break;
        if (whole)
            memmove(out + n, text, bytes);
        else
            out[n] = length ? ' ' : '?';
        n += room;
        text += bytes;
    }
    if (size) out[n] = '\0';
    return out;
}

char *us_plain_copy(const char *text)
{
    char *copy = strdup(text);
    return copy ? us_plain_line(copy, copy, strlen(copy) + 1) : NULL;
}
