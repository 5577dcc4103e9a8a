#include "undersong/program_folder.h"

#include <stdio.h>
#include <string.h>
#include <unistd.h>

bool us_beside_program(const char *name, char *out, size_t size)
{
    ssize_t length = readlink("/proc/self/exe", out, size);
    char *slash = length > 0 && (size_t)length < size ? memrchr(out, '/', (size_t)length) : NULL;
    size_t folder = slash ? (size_t)(slash + 1 - out) : 0;
    if (slash && (size_t)snprintf(out + folder, size - folder, "%s", name) < size - folder &&
        access(out, R_OK) == 0)
        return true;
    if (size) *out = '\0';
    return false;
}
