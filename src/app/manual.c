#include "manual.h"
#include "manual_words.h"

#include <stdio.h>

/* Roff text: a hyphen is a minus, a dot or a quote at the start of a line would be a request. */
static void put_roff(const char *text)
{
    if (*text == '.' || *text == '\'') fputs("\\&", stdout);
    for (; *text; text++) {
        if (*text == '-')
            fputs("\\-", stdout);
        else if (*text == '\\')
            fputs("\\e", stdout);
        else
            putchar(*text);
    }
}

static void put_head(const char *name, const char *summary)
{
    printf(".TH \"%s\" 1 \"\" \"undersong %s\" \"undersong\"\n.SH NAME\n", name, UNDERSONG_VERSION);
    put_roff(name);
    fputs(" \\- ", stdout);
    put_roff(summary);
    putchar('\n');
}

static void put_option(const struct option *o)
{
    char value[200];
    option_value_name(o, value, sizeof value);
    fputs(".TP\n\\fB\\-\\-", stdout);
    put_roff(o->name);
    fputs("\\fR", stdout);
    if (*value) {
        fputs(" \\fI", stdout);
        put_roff(value);
        fputs("\\fR", stdout);
    }
    putchar('\n');
    put_roff(o->help);
    if (o->fallback) {
        fputs(" (default: ", stdout);
        put_roff(o->fallback);
        putchar(')');
    }
    putchar('\n');
}

static void put_examples(const struct manual_words *words)
{
    puts(".SH EXAMPLES");
    for (size_t i = 0; i < words->example_count; i++) {
        fputs(".TP\n\\fB", stdout);
        put_roff(words->examples[i].line);
        puts("\\fR");
        put_roff(words->examples[i].says);
        putchar('\n');
    }
}

static void put_files(void)
{
    puts(".SH FILES\n"
         ".TP\n.I ~/.local/share/undersong/sessions\nwhat was played, the last fifty times; $XDG_DATA_HOME "
         "moves it\n"
         ".TP\n.I ~/.local/share/undersong/harmony.tables\nwhat `harmonize \\-\\-learn\\-from` has learned\n"
         ".TP\n.I ~/.config/undersong/patches\nyour own sounds and settings; $XDG_CONFIG_HOME moves it");
}

static void put_end(void)
{
    puts(".SH EXIT STATUS\n0 done, 1 failed while running, 2 the command line or an input file is wrong.\n"
         ".SH CARE\nStart with the sound turned down, take a break in every half hour, and stop when "
         "something hurts.");
}

static void put_command(const struct command *command)
{
    char name[40];
    snprintf(name, sizeof name, "undersong-%s", command->name);
    put_head(name, command->summary);
    printf(".SH SYNOPSIS\n.B undersong %s\n[options]%s%s\n", command->name, command->arguments ? " " : "",
           command->arguments ? command->arguments : "");
    const struct manual_words *words = manual_words_of(command->name);
    if (words) {
        puts(".SH DESCRIPTION");
        put_roff(words->about);
        putchar('\n');
    }
    puts(".SH OPTIONS");
    for (size_t i = 0; i < command->option_count; i++)
        put_option(&command->options[i]);
    if (words) put_examples(words);
    put_files();
    put_end();
    puts(".SH SEE ALSO\n.BR undersong (1)");
}

void manual_print(const struct command *const *commands, size_t count, const struct command *command)
{
    if (command) {
        put_command(command);
        return;
    }
    put_head("undersong", "plays a left hand under the tune that your right hand plays");
    puts(".SH SYNOPSIS\n.B undersong\n.I COMMAND\n[options]\n.SH COMMANDS");
    for (size_t i = 0; i < count; i++) {
        printf(".TP\n.BR undersong\\-%s (1)\n", commands[i]->name);
        put_roff(commands[i]->summary);
        putchar('\n');
    }
    puts(".SH OPTIONS\n.TP\n\\fB\\-\\-help\\fR\nthe commands; after a command its "
         "options\n.TP\n\\fB\\-\\-version\\fR\nthe version");
    put_files();
    put_end();
}
