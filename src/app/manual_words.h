/* What a manual page says besides the options: what a command is for, and lines to type. */
#ifndef APP_MANUAL_WORDS_H
#define APP_MANUAL_WORDS_H

#include <stddef.h>

struct example {
    const char *line, *says;
};
#define EXAMPLES(rows) (rows), sizeof(rows) / sizeof *(rows)

struct manual_words {
    const char *command, *about;
    const struct example *examples;
    size_t example_count;
};

/* NULL where a command has none. */
const struct manual_words *manual_words_of(const char *command);

#endif
