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
    const char *ending = to ? ending_of(to) : "";
    if (strcasecmp(ending, ".mxl") == 0) ending = ".musicxml";
    for (int i = 0; i < count; i++)
        if (strcasecmp(ending, endings[i]) == 0) return i;
    return fallback;
}

enum us_status target_folder(const char *to, size_t tunes, bool *folder, struct us_error *error)
{
    struct stat about;
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

void target_path(const char *folder, const char *input, const char *ending, char *out, size_t size)
{
    const char *slash = strrchr(input, '/'), *name = slash ? slash + 1 : input;
    snprintf(out, size, "%s%s%.*s%s", folder ? folder : "", folder ? "/" : "",
             (int)(strlen(name) - strlen(ending_of(input))), name, ending);
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
