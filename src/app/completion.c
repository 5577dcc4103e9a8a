#include <stdio.h>
#include <string.h>

#include "manual.h"

static void put_names(const struct command *const *commands, size_t count)
{
    for (size_t i = 0; i < count; i++)
        printf("%s%s", i ? " " : "", commands[i]->name);
}

static void put_options(const struct command *command)
{
    for (size_t i = 0; i < command->option_count; i++)
        printf("--%s ", command->options[i].name);
    fputs("--help", stdout);
}

static void put_choices(const struct option *o)
{
    for (int i = 0; o->choices[i]; i++)
        printf("%s%s", i ? " " : "", o->choices[i]);
}

static void put_bash_command(const struct command *command)
{
    printf("    %s)\n        case $before in\n", command->name);
    for (size_t i = 0; i < command->option_count; i++) {
        const struct option *o = &command->options[i];
        if (o->type != OPTION_CHOICE) continue;
        printf("        --%s) COMPREPLY=($(compgen -W '", o->name);
        put_choices(o);
        puts("' -- \"$word\")); return ;;");
    }
    fputs("        esac\n        options='", stdout);
    put_options(command);
    puts("' ;;");
}

static void put_bash(const struct command *const *commands, size_t count)
{
    fputs("# bash completion for undersong, made from its option tables\n"
          "_undersong()\n{\n"
          "    local word=${COMP_WORDS[COMP_CWORD]} before=${COMP_WORDS[COMP_CWORD-1]} options=\n"
          "    COMPREPLY=()\n"
          "    if [ \"$before\" = = ]; then before=${COMP_WORDS[COMP_CWORD-2]}; fi # --texture=block is "
          "three words\n"
          "    if [ \"$word\" = = ]; then word=; fi\n"
          "    if [ \"$COMP_CWORD\" -eq 1 ]; then COMPREPLY=($(compgen -W '",
          stdout);
    put_names(commands, count);
    puts(" --help --version' -- \"$word\")); return; fi\n    case ${COMP_WORDS[1]} in");
    for (size_t i = 0; i < count; i++)
        put_bash_command(commands[i]);
    puts("    esac\n"
         "    case $word in -*) COMPREPLY=($(compgen -W \"$options\" -- \"$word\")) ;; esac\n"
         "} # what is none of these is a file: the shell completes and quotes it\n"
         "complete -o default -F _undersong undersong");
}

/* Inside single quotes and the brackets of _arguments. */
static void put_zsh_text(const char *text)
{
    for (; *text; text++) {
        if (*text == '\'')
            fputs("'\\''", stdout);
        else if (strchr("[]:\\", *text))
            printf("\\%c", *text);
        else
            putchar(*text);
    }
}

static void put_zsh_option(const struct option *o)
{
    printf("        '%s--%s%s[", o->type == OPTION_LIST ? "*" : "", o->name,
           o->type == OPTION_FLAG ? "" : "=");
    put_zsh_text(o->help);
    putchar(']');
    if (o->type == OPTION_CHOICE) {
        printf(":%s:(", o->name);
        put_choices(o);
        putchar(')');
    } else if (o->type != OPTION_FLAG) {
        printf(":%s:_files", o->argument);
    }
    puts("' \\");
}

static void put_zsh(const struct command *const *commands, size_t count)
{
    fputs("#compdef undersong\n# zsh completion for undersong, made from its option tables\n"
          "if (( CURRENT == 2 )); then\n    compadd -- ",
          stdout);
    put_names(commands, count);
    puts(" --help --version\n    return\nfi\nlocal command=$words[2]\nshift words\n(( CURRENT-- ))\ncase "
         "$command in");
    for (size_t i = 0; i < count; i++) {
        printf("%s)\n    _arguments \\\n", commands[i]->name);
        for (size_t o = 0; o < commands[i]->option_count; o++)
            put_zsh_option(&commands[i]->options[o]);
        puts("        '--help[what the options are]' '*:file:_files' ;;");
    }
    puts("esac");
}

bool completion_print(const struct command *const *commands, size_t count, const char *shell)
{
    if (strcmp(shell, "bash") == 0)
        put_bash(commands, count);
    else if (strcmp(shell, "zsh") == 0)
        put_zsh(commands, count);
    else
        return false;
    return true;
}
