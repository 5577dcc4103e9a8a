/* What a program that learns or judges is told on its command line: a table says which words it takes. */
#ifndef MODEL_PROGRAM_WORDS_H
#define MODEL_PROGRAM_WORDS_H

#include <stdio.h>

#include "corpus.h"

enum word_kind {
    WORD_TEXT,   /* `to` is a const char * */
    WORD_NUMBER, /* `to` is an int, from `low` to `high` */
    WORD_FOLDS   /* `to` is bool[CORPUS_FOLDS]; written as their numbers, "01" or "0,1" */
};

/* A word by its place.  One that may be left out leaves what `to` points to as it was. */
struct word {
    const char *name; /* as usage says it, in capitals */
    enum word_kind kind;
    bool optional; /* and so are all that follow */
    int low, high;
    void *to;
};

/* Reads argv[1] and on by the table.  US_STATUS_BAD_INPUT where one is missing, too many or not what it must
   be; `error` then says all words that it takes, or which one is wrong and what to give. */
enum us_status words_read(const struct word *words, size_t count, int argc, char **argv,
                          struct us_error *error) US_WARN_UNUSED;
/* The same, and loads the tunes of the folder that the first word, a text, names.  Returns 0, or what the
   program is to exit with after one line on standard error; then there is no corpus to finish. */
int words_begin(const char *program, const struct word *words, size_t count, int argc, char **argv,
                struct corpus *corpus) US_WARN_UNUSED;

/* Opens a file for writing.  NULL after one line on standard error. */
FILE *words_open(const char *program, const char *path);
/* Closes it; false after one line on standard error, where not all of it was written. */
bool words_close(const char *program, const char *path, FILE *out) US_WARN_UNUSED;
/* Ends the program with exit status 1 after one line on standard error: figures of some of the tunes would
   not be those of all. */
_Noreturn void words_no_memory(void);
/* Memory for `count` things of a size, all bits 0; words_no_memory() where there is none. */
void *words_room(size_t count, size_t size);

#endif
