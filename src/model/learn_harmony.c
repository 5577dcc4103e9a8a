/* learn_harmony FOLDER OUT [FOLDS]: learns the harmony tables from tunes with chords.  OUT ending in .c gets
   C source, else a file of tables.  Tunes of the FOLDS ("0,1") are left out, for evaluating on them. */
#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "corpus.h"
#include "undersong/harmony_file.h"
#include "undersong/harmony_learn.h"

static void tell(const char *what)
{
    fprintf(stderr, "%s\n", what);
}

static bool holds(const char *folds, int fold)
{
    return folds && strchr(folds, '0' + fold);
}

static size_t choose_lessons(const struct corpus *corpus, const char *left_out,
                             struct us_harmony_lesson *lessons)
{
    size_t count = 0;
    for (size_t i = 0; i < corpus->count; i++) {
        const struct corpus_tune *t = &corpus->tunes[i];
        if (!t->grid_sure || holds(left_out, t->fold)) continue;
        lessons[count++] =
            (struct us_harmony_lesson){&t->tune, t->key, strncmp(t->style, "hymn", 4) == 0 ? 1.0f : 0.0f};
    }
    return count;
}

static enum us_status write_source(const char *path, const struct us_harmony_tables *tables, size_t tunes,
                                   struct us_error *error)
{
    char origin[400];
    snprintf(
        origin, sizeof origin,
        "Written by learn_harmony from %zu tunes with chords: a public collection of British and Irish folk\n"
        "   tunes gathered in Nottingham (as abc, read as MIDI), and hymns in the public domain from an open "
        "hymnal.\n   No tune can be read back out of these weights.",
        tunes);
    FILE *out = fopen(path, "w");
    if (!out) return us_error_set(error, US_STATUS_IO, "%s: %s", path, strerror(errno));
    us_harmony_tables_write_c(out, tables, origin);
    if (fclose(out)) return us_error_set(error, US_STATUS_IO, "%s: %s", path, strerror(errno));
    return US_STATUS_OK;
}

int main(int argc, char **argv)
{
    struct corpus corpus;
    struct us_error error;
    if (argc < 3) {
        fprintf(stderr, "learn_harmony: name the folder of tunes and the file to write\n");
        return 2;
    }
    enum us_status status = corpus_load(&corpus, argv[1], &error);
    struct us_harmony_lesson *lessons = status ? NULL : calloc(corpus.count, sizeof *lessons);
    struct us_harmony_tables *tables = calloc(1, sizeof *tables);
    if (!status && lessons && tables) {
        size_t count = choose_lessons(&corpus, argc > 3 ? argv[3] : NULL, lessons);
        struct us_harmony_learn_options options = {.progress = tell};
        status = us_harmony_learn(lessons, count, &options, tables, &error);
        size_t length = strlen(argv[2]);
        bool source = length > 2 && strcmp(argv[2] + length - 2, ".c") == 0;
        if (!status)
            status = source ? write_source(argv[2], tables, count, &error)
                            : us_harmony_tables_save(argv[2], tables, &error);
        corpus_finish(&corpus);
    }
    if (status) fprintf(stderr, "learn_harmony: %s\n", error.text);
    free(lessons);
    free(tables);
    return us_status_exit_code(status);
}
