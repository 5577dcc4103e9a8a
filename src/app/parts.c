#include "parts.h"

#include <dlfcn.h>
#include <limits.h>
#include <stdio.h>
#include <string.h>

#include "undersong/program_folder.h"

enum { PARTS_MAX = 8 };

static void *open_part(const char *part, struct us_error *error)
{
    char file[64], path[PATH_MAX];
    snprintf(file, sizeof file, "undersong-%s.so", part);
    if (!us_beside_program(file, path, sizeof path))
        snprintf(path, sizeof path, "%s/%s", US_PARTS_INSTALLED, file);
    void *handle = dlopen(path, RTLD_NOW | RTLD_LOCAL);
    if (!handle)
        us_error_set(error, US_STATUS_NO_DEVICE,
                     "the part for %s is not there: %.250s; install undersong again", part, dlerror());
    return handle;
}

/* Opened once and never closed: what they hold ends with the program. */
static void *handle_of(const char *part, struct us_error *error)
{
    static struct {
        const char *part;
        void *handle;
    } open[PARTS_MAX];
    int i = 0;
    while (i < PARTS_MAX - 1 && open[i].part && strcmp(open[i].part, part) != 0)
        i++;
    if (open[i].part) return open[i].handle;
    open[i].handle = open_part(part, error);
    if (open[i].handle) open[i].part = part;
    return open[i].handle;
}

void *part_function(const char *part, const char *name, struct us_error *error)
{
    void *handle = handle_of(part, error);
    void *function = handle ? dlsym(handle, name) : NULL;
    if (handle && !function)
        us_error_set(error, US_STATUS_NO_DEVICE,
                     "the part for %s is of another version; install undersong again", part);
    return function;
}
