#include "options.h"

#include <errno.h>
#include <limits.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static bool list_add(struct text_list *list, const char *item)
{
    if ((list->count & (list->count + 1)) == 0) {
        const char **grown = realloc(list->items, (2 * list->count + 1) * sizeof *grown);
        if (!grown) return false;
        list->items = grown;
    }
    list->items[list->count++] = item;
    return true;
}

static enum us_status refuse(const struct option *o, const char *value, const char *wanted,
                             struct us_error *error)
{
    return us_error_set(error, US_STATUS_BAD_INPUT, "--%s %.60s: %s", o->name, value, wanted);
}

static enum us_status parse_choice(const struct option *o, const char *value, int *out,
                                   struct us_error *error)
{
    char wanted[200] = "choose one of";
    for (int i = 0; o->choices[i]; i++) {
        if (strcmp(o->choices[i], value) == 0) {
            *out = i;
            return US_STATUS_OK;
        }
        size_t used = strlen(wanted);
        snprintf(wanted + used, sizeof wanted - used, " %s", o->choices[i]);
    }
    return refuse(o, value, wanted, error);
}

static bool parse_double(const char *text, double *out)
{
    char *end;
    errno = 0;
    *out = strtod(text, &end);
    return end != text && *end == 0 && errno == 0 && isfinite(*out);
}

static enum us_status parse_number(const struct option *o, const char *value, double *out,
                                   struct us_error *error)
{
    bool whole = o->type == OPTION_INT;
    if (!parse_double(value, out) || *out < o->low || *out > o->high || (whole && *out != trunc(*out))) {
        char wanted[100];
        snprintf(wanted, sizeof wanted, "give a %snumber from %g to %g", whole ? "whole " : "", o->low,
                 o->high);
        return refuse(o, value, wanted, error);
    }
    return US_STATUS_OK;
}

static enum us_status store(const struct option *o, const char *value, char *settings, struct us_error *error)
{
    void *at = settings + o->offset;
    bool is_auto = o->allow_auto && strcmp(value, "auto") == 0;
    double number;
    enum us_status status = US_STATUS_OK;
    switch (o->type) {
    case OPTION_FLAG: *(bool *)at = true; break;
    case OPTION_TEXT: *(const char **)at = value; break;
    case OPTION_LIST:
        if (!list_add(at, value)) return us_error_no_memory(error);
        break;
    case OPTION_CHOICE: return parse_choice(o, value, at, error);
    case OPTION_INT:
        number = AUTO_INT;
        if (!is_auto) status = parse_number(o, value, &number, error);
        if (!status) *(int *)at = (int)number;
        break;
    case OPTION_NUMBER:
        number = -1;
        if (!is_auto) status = parse_number(o, value, &number, error);
        if (!status) *(double *)at = number;
        break;
    case OPTION_KEY:
        *(struct us_key *)at = (struct us_key){US_NO_KEY, US_MODE_MAJOR};
        if (!is_auto && !us_key_parse(value, at))
            return refuse(o, value, "no such key; write G, Bb, Em or D dorian", error);
        break;
    case OPTION_METRE:
        *(struct us_metre *)at = (struct us_metre){0, 4};
        if (!is_auto && !us_metre_parse(value, at))
            return refuse(o, value, "no such metre; write 3/4, 4/4 or 6/8", error);
        break;
    }
    return status;
}

static const struct option *find(const struct command *command, const char *name, size_t length)
{
    for (size_t i = 0; i < command->option_count; i++) {
        const struct option *o = &command->options[i];
        if (strlen(o->name) == length && strncmp(o->name, name, length) == 0) return o;
    }
    return NULL;
}

static enum us_status parse_option(const struct command *command, int argc, char **argv, int *i,
                                   char *settings, struct us_error *error)
{
    const char *name = argv[*i] + 2, *equals = strchr(name, '=');
    size_t length = equals ? (size_t)(equals - name) : strlen(name);
    const struct option *o = find(command, name, length);
    if (!o)
        return us_error_set(error, US_STATUS_BAD_INPUT,
                            "%.60s: no such option; `undersong %s --help` lists them", argv[*i],
                            command->name);
    if (o->type == OPTION_FLAG) {
        if (equals)
            return us_error_set(error, US_STATUS_BAD_INPUT, "--%s takes no value; leave out %.40s", o->name,
                                equals);
        return store(o, "", settings, error);
    }
    const char *value = equals ? equals + 1 : *i + 1 < argc ? argv[++*i] : NULL;
    if (!value)
        return us_error_set(error, US_STATUS_BAD_INPUT, "--%s: a value is missing; give %s", o->name,
                            o->argument);
    return store(o, value, settings, error);
}

static enum us_status store_defaults(const struct command *command, char *settings, struct us_error *error)
{
    memset(settings, 0, command->settings_size);
    for (size_t i = 0; i < command->option_count; i++) {
        const struct option *o = &command->options[i];
        enum us_status status =
            o->fallback && o->type != OPTION_LIST ? store(o, o->fallback, settings, error) : US_STATUS_OK;
        if (status) return status;
    }
    return US_STATUS_OK;
}

enum us_status options_parse(const struct command *command, int argc, char **argv, void *settings, bool *help,
                             struct us_error *error)
{
    enum us_status status = store_defaults(command, settings, error);
    bool only_words = false;
    for (int i = 0; i < argc && !status; i++) {
        if (!only_words && strcmp(argv[i], "--") == 0)
            only_words = true;
        else if (!only_words && (strcmp(argv[i], "--help") == 0 || strcmp(argv[i], "-h") == 0))
            *help = true;
        else if (!only_words && argv[i][0] == '-' && argv[i][1] == '-')
            status = parse_option(command, argc, argv, &i, settings, error);
        else if (!command->arguments || (argv[i][0] == '-' && argv[i][1] && !only_words))
            status = us_error_set(error, US_STATUS_BAD_INPUT,
                                  "%.60s: not expected here; `undersong %s --help` shows what is", argv[i],
                                  command->name);
        else if (!list_add((struct text_list *)((char *)settings + command->rest_offset), argv[i]))
            status = us_error_no_memory(error);
    }
    return status;
}

void options_finish(const struct command *command, void *settings)
{
    for (size_t i = 0; i < command->option_count; i++)
        if (command->options[i].type == OPTION_LIST)
            free(((struct text_list *)((char *)settings + command->options[i].offset))->items);
    if (command->arguments) free(((struct text_list *)((char *)settings + command->rest_offset))->items);
}
