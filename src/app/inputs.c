#include "inputs.h"

#include <dirent.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>
#include <sys/stat.h>

static bool add(struct inputs *inputs, char *path)
{
    char **grown = path ? realloc(inputs->paths, (inputs->count + 1) * sizeof *grown) : NULL;
    if (!grown) {
        free(path);
        return false;
    }
    inputs->paths = grown;
    inputs->paths[inputs->count++] = path;
    return true;
}

static int is_tune(const struct dirent *entry)
{
    static const char *const ENDINGS[] = {".abc", ".mid", ".midi", ".musicxml", ".xml", ".mxl"};
    const char *dot = strrchr(entry->d_name, '.');
    for (size_t i = 0; dot && dot != entry->d_name && i < sizeof ENDINGS / sizeof *ENDINGS; i++)
        if (strcasecmp(dot, ENDINGS[i]) == 0) return 1;
    return 0;
}

static bool add_folder(struct inputs *inputs, const char *folder)
{
    struct dirent **entries;
    int count = scandir(folder, &entries, is_tune, alphasort);
    bool good = true;
    for (int i = 0; i < count; i++) {
        char *path = NULL;
        if (good && asprintf(&path, "%s/%s", folder, entries[i]->d_name) < 0) path = NULL;
        if (good) good = add(inputs, path);
        free(entries[i]);
    }
    if (count >= 0) free(entries);
    return good;
}

enum us_status inputs_collect(const struct text_list *words, struct inputs *inputs, struct us_error *error)
{
    *inputs = (struct inputs){NULL, 0};
    bool good = true;
    for (size_t i = 0; i < words->count && good; i++) {
        struct stat about;
        bool folder = stat(words->items[i], &about) == 0 && S_ISDIR(about.st_mode);
        good = folder ? add_folder(inputs, words->items[i]) : add(inputs, strdup(words->items[i]));
    }
    enum us_status status = US_STATUS_OK;
    if (!good)
        status = us_error_no_memory(error);
    else if (words->count == 0)
        status =
            us_error_set(error, US_STATUS_BAD_INPUT, "no tune named; give a .abc, .mid or .musicxml file");
    else if (inputs->count == 0)
        status = us_error_set(error, US_STATUS_BAD_INPUT,
                              "%s: no tunes in this folder; give one with .abc files", words->items[0]);
    if (status) inputs_finish(inputs);
    return status;
}

void inputs_finish(struct inputs *inputs)
{
    for (size_t i = 0; i < inputs->count; i++)
        free(inputs->paths[i]);
    free(inputs->paths);
    *inputs = (struct inputs){NULL, 0};
}
