/* Learns the harmony tables from tunes with chords.

   usage: learn_harmony FOLDER OUT [FOLDS]
   OUT ending in .c gets C source, else a file of tables.  Tunes of the FOLDS are left out, for judging. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "corpus.h"
#include "program_words.h"
#include "undersong/harmony_file.h"
#include "undersong/harmony_learn.h"

static const char NAME[] = "learn_harmony";

static void tell(const char *what)
{
    fprintf(stderr, "%s\n", what);
}

static size_t choose_lessons(const struct corpus *corpus, const bool left_out[CORPUS_FOLDS],
                             struct us_harmony_lesson *lessons)
{
    size_t count = 0;
    for (size_t i = 0; i < corpus->count; i++) {
        const struct corpus_tune *t = &corpus->tunes[i];
        if (!t->grid_sure || left_out[t->fold]) continue;
        lessons[count++] = (struct us_harmony_lesson){&t->tune, t->key, corpus_is_hymn(t) ? 1.0f : 0.0f};
    }
    return count;
}

static bool write_source(const char *path, const struct us_harmony_tables *tables, size_t tunes)
{
    char origin[400];
    snprintf(
        origin, sizeof origin,
        "Written by learn_harmony from %zu tunes with chords: a public collection of British and Irish folk\n"
        "   tunes gathered in Nottingham (as abc, read as MIDI), and hymns in the public domain from an open "
        "hymnal.\n   No tune can be read back out of these weights.",
        tunes);
    FILE *out = words_open(NAME, path);
    if (!out) return false;
    us_harmony_tables_write_c(out, tables, origin);
    return words_close(NAME, path, out);
}

static int learn(const struct corpus *corpus, const bool left_out[CORPUS_FOLDS], const char *path)
{
    struct us_error error;
    struct us_harmony_lesson *lessons = words_room(corpus->count, sizeof *lessons);
    struct us_harmony_tables *tables = words_room(1, sizeof *tables);
    size_t count = choose_lessons(corpus, left_out, lessons), length = strlen(path);
    struct us_harmony_learn_options options = {.progress = tell};
    bool source = length > 2 && strcmp(path + length - 2, ".c") == 0;
    enum us_status status = us_harmony_learn(lessons, count, &options, tables, &error);
    if (!status && !source) status = us_harmony_tables_save(path, tables, &error);
    if (status) fprintf(stderr, "%s: %s\n", NAME, error.text);
    bool written = status || !source || write_source(path, tables, count);
    free(lessons);
    free(tables);
    return written ? us_status_exit_code(status) : 1;
}

int main(int argc, char **argv)
{
    const char *folder, *path;
    bool left_out[CORPUS_FOLDS] = {false};
    const struct word WORDS[] = {{"FOLDER", WORD_TEXT, .to = &folder},
                                 {"OUT", WORD_TEXT, .to = &path},
                                 {"FOLDS", WORD_FOLDS, .optional = true, .to = left_out}};
    struct corpus corpus;
    int status = words_begin(NAME, WORDS, 3, argc, argv, &corpus);
    if (status) return status;
    status = learn(&corpus, left_out, path);
    corpus_finish(&corpus);
    return status;
}
