/* The commands of the program, one file each. */
#ifndef APP_COMMANDS_H
#define APP_COMMANDS_H

#include "options.h"

extern const struct command command_harmonize;
extern const struct command command_play;
extern const struct command command_ports;
extern const struct command command_review;
extern const struct command command_sheet;
extern const struct command command_stand;

/* Prints "undersong: ..." on standard error and returns the exit status that belongs to the error. */
int report_error(const struct us_error *error);
/* Whether all that was printed has come to where it goes, such as a disk with room. */
enum us_status printed(struct us_error *error) US_WARN_UNUSED;

#endif
