/* The command line as typed tables: one table a command, one row an option.  The parser, --help, the manual
   pages and the shell completions read the same rows. */
#ifndef APP_OPTIONS_H
#define APP_OPTIONS_H

#include "undersong/key.h"
#include "undersong/metre.h"
#include "undersong/status.h"

enum option_type {
    OPTION_FLAG,   /* bool */
    OPTION_TEXT,   /* const char *, NULL where not given */
    OPTION_LIST,   /* struct text_list; may be repeated */
    OPTION_CHOICE, /* int: the index in `choices` */
    OPTION_INT,    /* int, from `low` to `high`; AUTO_INT where "auto" is given and allowed */
    OPTION_NUMBER, /* double, from `low` to `high` */
    OPTION_KEY,    /* struct us_key; "auto" is US_NO_KEY */
    OPTION_METRE   /* struct us_metre; "auto" has top 0 */
};

enum { AUTO_INT = -9999 };
struct text_list {
    const char **items; /* grown by the parser, freed by options_finish */
    size_t count;
};

struct option {
    const char *name; /* without the dashes */
    enum option_type type;
    size_t offset;              /* of the value inside the command's settings */
    const char *argument;       /* what --help calls the value, NULL for a flag */
    const char *const *choices; /* OPTION_CHOICE: names, ended by NULL */
    double low, high;
    bool allow_auto;
    const char *fallback; /* the default, as the user would write it; NULL for none */
    const char *help;
};

struct command {
    const char *name;
    const char *summary;   /* one line */
    const char *arguments; /* "FILE..." or NULL where it takes none */
    const struct option *options;
    size_t option_count;
    size_t settings_size;
    size_t rest_offset; /* struct text_list for the arguments; ignored where `arguments` is NULL */
    /* Runs with settings filled in; returns the exit status. */
    int (*run)(const void *settings);
};

#define OPTION_ROWS(rows) (rows), sizeof(rows) / sizeof *(rows)

/* Fills `settings` (command->settings_size bytes) from the defaults and argv[0..argc-1], the words after the
   command's name.  `*help` is set where --help was asked for.  Wrong words give US_STATUS_BAD_INPUT. */
enum us_status options_parse(const struct command *command, int argc, char **argv, void *settings, bool *help,
                             struct us_error *error) US_WARN_UNUSED;
/* Frees what the parser has put into the settings' lists. */
void options_finish(const struct command *command, void *settings);
/* The command's help, made from its table, on standard output. */
void options_help(const struct command *command);

#endif
