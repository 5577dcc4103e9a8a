#include "undersong/user_folders.h"

#include <stdio.h>
#include <stdlib.h>

/* A variable that is no absolute path counts as not set. */
static const char *absolute(const char *variable)
{
    const char *path = getenv(variable);
    return path && *path == '/' ? path : NULL;
}

static bool find(const char *variable, const char *under_home, const char *name, char *out, size_t size)
{
    const char *folder = absolute(variable), *home = absolute("HOME");
    int length = -1;
    if (folder)
        length = snprintf(out, size, "%s/undersong/%s", folder, name);
    else if (home)
        length = snprintf(out, size, "%s/%s/undersong/%s", home, under_home, name);
    if (length > 0 && (size_t)length < size) return true;
    *out = '\0';
    return false;
}

bool us_user_data(const char *name, char *out, size_t size)
{
    return find("XDG_DATA_HOME", ".local/share", name, out, size);
}

bool us_user_config(const char *name, char *out, size_t size)
{
    return find("XDG_CONFIG_HOME", ".config", name, out, size);
}
