/* Prints what is in a tune file, for the tests that compare it with what other programs read:

       tune_notes FILE [NUMBER]

   Lines `note AT LEN PITCH`, `second AT LEN PITCH`, `chord AT LEN SYMBOL`, and the head; quarter notes. */
#include "undersong/tune_file.h"

#include <stdio.h>
#include <stdlib.h>

static void print_notes(const char *what, const struct us_note *notes, size_t count)
{
    for (size_t i = 0; i < count; i++)
        printf("%s %.6f %.6f %d\n", what, notes[i].at, notes[i].len, notes[i].pitch);
}

static void print_tune(const struct us_tune *tune)
{
    char text[32];
    printf("title %s\n", tune->title);
    printf("composer %s\n", tune->composer ? tune->composer : "");
    printf("key %s\n", us_key_name(tune->key, text, sizeof text));
    printf("metre %s\n", us_metre_name(tune->metre, text, sizeof text));
    printf("pickup %.6f\n", tune->pickup);
    printf("tempo %.6f\n", tune->quarters_a_minute);
    print_notes("note", tune->notes, tune->note_count);
    print_notes("second", tune->second, tune->second_count);
    for (size_t i = 0; i < tune->chord_count; i++) {
        const struct us_chord_span *span = &tune->chords[i];
        printf("chord %.6f %.6f %s\n", span->at, span->len,
               us_chord_symbol(span->chord, tune->key, text, sizeof text));
    }
    for (size_t i = 0; i < tune->slur_count; i++)
        printf("slur %.6f %.6f\n", tune->slurs[i].at, tune->slurs[i].len);
    for (size_t i = 0; i < tune->bar_count; i++)
        printf("bar %.6f %.6f %s\n", tune->bars[i].at, tune->bars[i].len,
               us_metre_name(tune->bars[i].metre, text, sizeof text));
}

int main(int argc, char **argv)
{
    struct us_tune_file file;
    struct us_error error;
    if (argc < 2) return 2;
    enum us_status status = us_tune_load_number(argv[1], argc > 2 ? atoi(argv[2]) : 0, &file, &error);
    if (status) {
        fprintf(stderr, "%s\n", error.text);
        return us_status_exit_code(status);
    }
    print_tune(&file.tune);
    us_tune_file_finish(&file);
    return 0;
}
