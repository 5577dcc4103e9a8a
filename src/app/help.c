#include <stdio.h>
#include <string.h>

#include "manual.h"

enum { HELP_COLUMN = 30, HELP_WIDTH = 96 };

/* Text from the current column on, wrapped at words. */
static void print_wrapped(const char *text, int column)
{
    while (*text) {
        int word = (int)strcspn(text, " ");
        if (column > HELP_COLUMN && column + word > HELP_WIDTH) {
            printf("\n%*s", HELP_COLUMN, "");
            column = HELP_COLUMN;
        }
        printf("%.*s", word, text);
        column += word;
        text += word;
        if (*text == ' ') {
            putchar(' ');
            column++, text++;
        }
    }
    putchar('\n');
}

void option_value_name(const struct option *o, char *out, size_t size)
{
    if (o->type != OPTION_CHOICE) {
        snprintf(out, size, "%s", o->argument ? o->argument : "");
        return;
    }
    size_t used = 0;
    *out = '\0';
    for (int i = 0; o->choices[i] && used < size; i++)
        used += (size_t)snprintf(out + used, size - used, "%s%s", i ? "|" : "", o->choices[i]);
}

static void print_option(const struct option *o)
{
    char value[200], head[240], help[600];
    option_value_name(o, value, sizeof value);
    int width = snprintf(head, sizeof head, "  --%s%s%s", o->name, *value ? " " : "", value);
    snprintf(help, sizeof help, "%s%s%s%s", o->help, o->fallback ? " (default: " : "",
             o->fallback ? o->fallback : "", o->fallback ? ")" : "");
    if (width >= HELP_COLUMN - 1)
        printf("%s\n%*s", head, HELP_COLUMN, "");
    else
        printf("%-*s", HELP_COLUMN, head);
    print_wrapped(help, HELP_COLUMN);
}

void options_help(const struct command *command)
{
    printf("undersong %s: %s\n\nusage: undersong %s [options]%s%s\n\noptions:\n", command->name,
           command->summary, command->name, command->arguments ? " " : "",
           command->arguments ? command->arguments : "");
    for (size_t i = 0; i < command->option_count; i++)
        print_option(&command->options[i]);
}
