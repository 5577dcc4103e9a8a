#include "target.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>
#include <sys/stat.h>

#include "undersong/file_save.h"
#include "undersong/musicxml.h"

static const char *ending_of(const char *path)
{
    const char *slash = strrchr(path, '/'), *name = slash ? slash + 1 : path, *dot = strrchr(name, '.');
    return dot && dot != name ? dot : "";
}

int target_format(const char *to, const char *const *endings, int count, int fallback)
{
    static const char *const OTHERS[][2] = {{".mxl", ".musicxml"}, {".xml", ".musicxml"}, {".midi", ".mid"}};
    const char *ending = to ? ending_of(to) : "";
    for (size_t i = 0; i < sizeof OTHERS / sizeof *OTHERS; i++)
        if (strcasecmp(ending, OTHERS[i][0]) == 0) ending = OTHERS[i][1];
    for (int i = 0; i < count; i++)
        if (strcasecmp(ending, endings[i]) == 0) return i;
    return fallback;
}

enum us_status target_folder(const char *to, size_t tunes, bool *folder, struct us_error *error)
{
    struct stat about;
    if (to && strcmp(to, "-") == 0)
        return us_error_set(error, US_STATUS_BAD_INPUT, "--to -: leave it out, and all is printed");
    bool there = to && stat(to, &about) == 0;
    *folder = there && S_ISDIR(about.st_mode);
    if (tunes < 2 || !to || *folder) return US_STATUS_OK;
    if (there)
        return us_error_set(error, US_STATUS_BAD_INPUT, "--to %.300s: there are %zu tunes, so give a folder",
                            to, tunes);
    if (mkdir(to, 0777))
        return us_error_set(error, US_STATUS_BAD_INPUT,
                            "--to %.300s: the folder cannot be made (%s); give one that exists", to,
                            strerror(errno));
    *folder = true;
    return US_STATUS_OK;
}

static const char *name_of(const char *path)
{
    const char *slash = strrchr(path, '/');
    return slash ? slash + 1 : path;
}

static size_t stem_of(const char *path)
{
    return strlen(name_of(path)) - strlen(ending_of(path));
}

/* How far an earlier input's name is that of this one: 1 but for the ending, 2 wholly. */
static int taken(const struct inputs *inputs, const char *input)
{
    int most = 0;
    size_t stem = stem_of(input);
    for (size_t i = 0; i < inputs->count && strcmp(inputs->paths[i], input) != 0; i++) {
        const char *name = name_of(inputs->paths[i]);
        if (strcmp(name, name_of(input)) == 0) return 2;
        if (stem_of(name) == stem && strncmp(name, name_of(input), stem) == 0) most = 1;
    }
    return most;
}

enum us_status target_path(const char *folder, const struct inputs *inputs, const char *input,
                           const char *ending, char *out, size_t size, struct us_error *error)
{
    int known = taken(inputs, input);
    if (known == 2)
        return us_error_set(error, US_STATUS_BAD_INPUT,
                            "%.200s: a file of that name is written already; give this one by itself", input);
    size_t length = known ? strlen(name_of(input)) : stem_of(input);
    int whole = snprintf(out, size, "%s%s%.*s%s", folder ? folder : "", folder ? "/" : "", (int)length,
                         name_of(input), ending);
    if (whole >= 0 && (size_t)whole < size) return US_STATUS_OK;
    return us_error_set(error, US_STATUS_BAD_INPUT, "%.200s: too long a name for what is written; shorten it",
                        input);
}

bool target_same(const char *a, const char *b)
{
    struct stat one, other;
    if (strcmp(a, b) == 0) return true;
    return stat(a, &one) == 0 && stat(b, &other) == 0 && one.st_dev == other.st_dev &&
           one.st_ino == other.st_ino;
}

enum us_status target_spares(const char *path, const char *source, struct us_error *error)
{
    if (!target_same(path, source)) return US_STATUS_OK;
    return us_error_set(error, US_STATUS_BAD_INPUT,
                        "%.200s: is read here, and writing it would lose what is in it; choose another place",
                        path);
}

enum us_status target_spares_all(const char *path, const struct inputs *inputs, struct us_error *error)
{
    enum us_status status = US_STATUS_OK;
    for (size_t i = 0; i < inputs->count && !status; i++)
        status = target_spares(path, inputs->paths[i], error);
    return status;
}

static enum us_status save(const char *path, const void *bytes, size_t size, bool many,
                           struct us_error *error)
{
    return many ? us_file_save_many(path, bytes, size, 0666, error)
                : us_file_save(path, bytes, size, 0666, error);
}

enum us_status target_save(const char *path, const char *bytes, size_t size, bool many,
                           struct us_error *error)
{
    void *packed;
    if (strcasecmp(ending_of(path), ".mxl") != 0) return save(path, bytes, size, many, error);
    enum us_status status = us_mxl_pack(bytes, size, &packed, &size, error);
    if (status) return status;
    status = save(path, packed, size, many, error);
    free(packed);
    return status;
}
