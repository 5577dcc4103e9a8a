#include "parts.h"

#include <dlfcn.h>
#include <limits.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

enum { PARTS_MAX = 8 };

/* In the folder of the program itself: where it was built. */
static bool beside_the_program(const char *file, char *path, size_t size)
{
    ssize_t length = readlink("/proc/self/exe", path, size - 1);
    if (length <= 0) return false;
    path[length] = 0;
    char *name = strrchr(path, '/') + 1;
    size_t room = size - (size_t)(name - path);
    return (size_t)snprintf(name, room, "%s", file) < room && access(path, R_OK) == 0;
}

static void *open_part(const char *part, struct us_error *error)
{
    char file[64], path[PATH_MAX];
    snprintf(file, sizeof file, "undersong-%s.so", part);
    if (!beside_the_program(file, path, sizeof path))
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
