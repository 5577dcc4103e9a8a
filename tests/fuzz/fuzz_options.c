/* Any words as a command line, against the option tables of the real commands: accepted with values in range,
   or refused with one line.  The first byte chooses the command, each further line is a word. */
#include <string.h>

#include "commands.h"
#include "fuzz.h"

enum { WORDS_MAX = 64 };

int report_error(const struct us_error *error) /* the program's main file has another */
{
    return us_status_exit_code(error->status);
}

static void free_list(char *settings, size_t offset)
{
    struct text_list *list = (struct text_list *)(settings + offset);
    free(list->items);
}

static void check_value(const struct option *option, const char *settings)
{
    const void *value = settings + option->offset;
    if (option->type == OPTION_INT) {
        int whole = *(const int *)value;
        FUZZ_CHECK((whole >= option->low && whole <= option->high) ||
                   (option->allow_auto && whole == AUTO_INT) || !option->fallback);
    } else if (option->type == OPTION_NUMBER) {
        double number = *(const double *)value;
        bool in_range = number >= option->low && number <= option->high;
        FUZZ_CHECK(in_range || (option->allow_auto && number == -1) || !option->fallback);
    } else if (option->type == OPTION_CHOICE) {
        int choice = *(const int *)value, count = 0;
        while (option->choices[count])
            count++;
        FUZZ_CHECK(choice >= 0 && choice < count);
    } else if (option->type == OPTION_KEY) {
        const struct us_key *key = value;
        FUZZ_CHECK(key->tonic >= US_NO_KEY && key->tonic < 12 && key->mode < US_MODES);
    } else if (option->type == OPTION_METRE) {
        const struct us_metre *metre = value;
        FUZZ_CHECK(metre->top <= 32);
    }
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    static const struct command *const COMMANDS[] = {&command_play,   &command_harmonize, &command_sheet,
                                                     &command_review, &command_ports,     &command_stand};
    if (!size) return 0;
    const struct command *command = COMMANDS[data[0] % (sizeof COMMANDS / sizeof *COMMANDS)];
    char *text = malloc(size), *settings = calloc(1, command->settings_size), *words[WORDS_MAX];
    if (!text || !settings) abort();
    memcpy(text, data + 1, size - 1);
    text[size - 1] = '\0';
    int count = 0;
    for (char *word = strtok(text, "\n"); word && count < WORDS_MAX; word = strtok(NULL, "\n"))
        words[count++] = word;
    bool help = false;
    struct us_error error = {0};
    if (options_parse(command, count, words, settings, &help, &error)) {
        FUZZ_CHECK(error.status == US_STATUS_BAD_INPUT && error.text[0] && !strchr(error.text, '\n'));
    } else if (!help) {
        for (size_t i = 0; i < command->option_count; i++)
            check_value(&command->options[i], settings);
    }
    for (size_t i = 0; i < command->option_count; i++)
        if (command->options[i].type == OPTION_LIST) free_list(settings, command->options[i].offset);
    if (command->arguments) free_list(settings, command->rest_offset);
    free(settings);
    free(text);
    return 0;
}
