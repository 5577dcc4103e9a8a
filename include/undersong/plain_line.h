/* Text from elsewhere - titles, names of files and ports - as one line that a terminal only shows.  Any
 * thread. */
#ifndef UNDERSONG_PLAIN_LINE_H
#define UNDERSONG_PLAIN_LINE_H

#include <stddef.h>

/* Bytes of the UTF-8 character at `text`, 1 to 4; 0 where it is none. */
size_t us_utf8_length(const char *text);

/* The text as UTF-8 of at most `size` bytes with its end: control characters (ISO 6429, C0 and C1) become
   blanks, bytes that are no UTF-8 question marks.  `out` may be `text` itself.  Returns `out`. */
char *us_plain_line(const char *text, char *out, size_t size);
/* A fresh copy for free(); NULL without memory. */
char *us_plain_copy(const char *text);

#endif
