/* What the option tables give beside --help: manual pages and shell completions, on standard output. */
#ifndef APP_MANUAL_H
#define APP_MANUAL_H

#include "options.h"

/* The values of an option in one word for help: its argument's name, or its choices. */
void option_value_name(const struct option *o, char *out, size_t size);

/* A manual page in roff: of one command, or with `command` NULL of the whole program. */
void manual_print(const struct command *const *commands, size_t count, const struct command *command);
/* A completion script for "bash" or "zsh"; false for another shell. */
bool completion_print(const struct command *const *commands, size_t count, const char *shell);

#endif
