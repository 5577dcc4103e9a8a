#include <fcntl.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "commands.h"
#include "manual.h"

static const struct command *const COMMANDS[] = {
    &command_play, &command_harmonize, &command_sheet, &command_review, &command_ports, &command_stand,
};
enum { COMMAND_COUNT = sizeof COMMANDS / sizeof *COMMANDS };

static void print_overview(void)
{
    puts("undersong plays a left hand under the tune that your right hand plays.\n\nusage: undersong COMMAND "
         "[options]\n");
    for (size_t i = 0; i < COMMAND_COUNT; i++)
        printf("  %-10s  %s\n", COMMANDS[i]->name, COMMANDS[i]->summary);
    puts("\n`undersong COMMAND --help` lists a command's options, `undersong --version` tells the version.\n"
         "Start quiet: long loud playing harms hearing.");
}

static int end_printing(void)
{
    struct us_error error;
    return printed(&error) ? report_error(&error) : 0;
}

static int run_command(const struct command *command, int argc, char **argv)
{
    void *settings = calloc(1, command->settings_size);
    struct us_error error = {US_STATUS_NO_MEMORY, "out of memory"};
    bool help = false;
    if (!settings) return report_error(&error);
    int status;
    if (options_parse(command, argc, argv, settings, &help, &error)) {
        status = report_error(&error);
    } else if (help) {
        options_help(command);
        status = end_printing();
    } else {
        status = command->run(settings);
    }
    options_finish(command, settings);
    free(settings);
    return status;
}

static const struct command *find_command(const char *name)
{
    for (size_t i = 0; i < COMMAND_COUNT; i++)
        if (strcmp(name, COMMANDS[i]->name) == 0) return COMMANDS[i];
    return NULL;
}

/* What the installation asks for: manual pages and completions, made from the option tables. */
static bool print_for_installing(int argc, char **argv)
{
    if (argc == 3 && strcmp(argv[1], "--completion") == 0)
        return completion_print(COMMANDS, COMMAND_COUNT, argv[2]);
    if (argc > 3 || strcmp(argv[1], "--manual") != 0) return false;
    const struct command *command = argc == 3 ? find_command(argv[2]) : NULL;
    if (argc == 3 && !command) return false;
    manual_print(COMMANDS, COMMAND_COUNT, command);
    return true;
}

/* Where a standard descriptor is closed, a file that is opened later would get its number, and what is
   printed would land in it.  What stands in for it can be neither read nor printed to, as before. */
static void hold_descriptors(void)
{
    static const int WRONG_WAY[] = {O_WRONLY, O_RDONLY, O_RDONLY};
    for (int fd = 0; fd < 3; fd++)
        if (fcntl(fd, F_GETFD) < 0) open("/dev/null", WRONG_WAY[fd]);
}

int main(int argc, char **argv)
{
    hold_descriptors();
    signal(SIGXFSZ, SIG_IGN); /* a file at its limit is a failed write, which is told, not the end */
    if (argc < 2 || strcmp(argv[1], "--help") == 0 || strcmp(argv[1], "-h") == 0) {
        print_overview();
        return argc < 2 ? 2 : end_printing();
    }
    if (strcmp(argv[1], "--version") == 0) {
        printf("undersong %s\n", UNDERSONG_VERSION);
        return end_printing();
    }
    if (print_for_installing(argc, argv)) return end_printing();
    const struct command *command = find_command(argv[1]);
    if (command) return run_command(command, argc - 2, argv + 2);
    struct us_error error;
    us_error_set(&error, US_STATUS_BAD_INPUT, "%.60s: no such command; `undersong --help` lists them",
                 argv[1]);
    return report_error(&error);
}
