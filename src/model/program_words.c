#include "program_words.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

static enum us_status usage(const struct word *words, size_t count, struct us_error *error)
{
    char text[200] = "";
    size_t length = 0, open = 0;
    for (size_t i = 0; i < count && length < sizeof text; i++) {
        length += (size_t)snprintf(text + length, sizeof text - length, " %s%s", words[i].optional ? "[" : "",
                                   words[i].name);
        open += words[i].optional;
    }
    for (; open > 0 && length + 1 < sizeof text; open--)
        length += (size_t)snprintf(text + length, sizeof text - length, "]");
    return us_error_set(error, US_STATUS_BAD_INPUT, "give%s", text);
}

static enum us_status read_number(const struct word *w, const char *text, struct us_error *error)
{
    char *end;
    errno = 0;
    long number = strtol(text, &end, 10);
    if (end == text || *end || errno || number < w->low || number > w->high)
        return us_error_set(error, US_STATUS_BAD_INPUT, "%s: \"%.60s\"; give a whole number from %d to %d",
                            w->name, text, w->low, w->high);
    *(int *)w->to = (int)number;
    return US_STATUS_OK;
}

static enum us_status read_folds(const struct word *w, const char *text, struct us_error *error)
{
    bool folds[CORPUS_FOLDS] = {false};
    size_t named = 0;
    for (const char *p = text; *p; p++) {
        if (*p == ',') continue;
        if (*p < '0' || *p >= '0' + CORPUS_FOLDS) {
            named = 0;
            break;
        }
        folds[*p - '0'] = true;
        named++;
    }
    if (!named)
        return us_error_set(error, US_STATUS_BAD_INPUT,
                            "%s: \"%.60s\"; give folds by their numbers, 0 to %d, as in 01", w->name, text,
                            CORPUS_FOLDS - 1);
    memcpy(w->to, folds, sizeof folds);
    return US_STATUS_OK;
}

enum us_status words_read(const struct word *words, size_t count, int argc, char **argv,
                          struct us_error *error)
{
    size_t given = argc > 1 ? (size_t)argc - 1 : 0;
    if (given > count || (given < count && !words[given].optional)) return usage(words, count, error);
    for (size_t i = 0; i < given; i++) {
        enum us_status status = US_STATUS_OK;
        if (words[i].kind == WORD_TEXT) *(const char **)words[i].to = argv[i + 1];
        if (words[i].kind == WORD_NUMBER) status = read_number(&words[i], argv[i + 1], error);
        if (words[i].kind == WORD_FOLDS) status = read_folds(&words[i], argv[i + 1], error);
        if (status) return status;
    }
    return US_STATUS_OK;
}

int words_begin(const char *program, const struct word *words, size_t count, int argc, char **argv,
                struct corpus *corpus)
{
    struct us_error error;
    enum us_status status = words_read(words, count, argc, argv, &error);
    if (!status) status = corpus_load(corpus, argv[1], &error);
    if (status) fprintf(stderr, "%s: %s\n", program, error.text);
    return us_status_exit_code(status);
}

FILE *words_open(const char *program, const char *path)
{
    FILE *out = fopen(path, "w");
    if (!out)
        fprintf(stderr, "%s: %s: %s; name a file that can be written\n", program, path, strerror(errno));
    return out;
}

bool words_close(const char *program, const char *path, FILE *out)
{
    bool fine = !ferror(out);
    if (fclose(out) == 0 && fine) return true;
    fprintf(stderr, "%s: %s: not all of it was written; make room and learn again\n", program, path);
    return false;
}

void words_no_memory(void)
{
    fputs("out of memory; close other programs\n", stderr);
    exit(1);
}

void *words_room(size_t count, size_t size)
{
    void *room = calloc(count ? count : 1, size);
    if (!room) words_no_memory();
    return room;
}
