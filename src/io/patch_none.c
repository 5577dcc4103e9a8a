/* A build without inih: there is the piano, and no other patch. */
#include "undersong/patch.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static const char ONLY[] = "front-room-piano";

enum us_status us_patch_read(const char *path, struct us_patch *patch, struct us_error *error)
{
    us_patch_default(patch);
    return us_error_set(error, US_STATUS_BAD_INPUT,
                        "%.200s: this build has no patches but %s (made without inih)", path, ONLY);
}

enum us_status us_patch_find(const char *name, struct us_patch *patch, struct us_error *error)
{
    if (strcmp(name, ONLY) != 0) return us_patch_read(name, patch, error);
    us_patch_default(patch);
    snprintf(patch->id, sizeof patch->id, "%s", ONLY);
    snprintf(patch->name, sizeof patch->name, "Front-room piano");
    return US_STATUS_OK;
}

enum us_status us_patch_list(struct us_patch **list, size_t *count, struct us_error *error)
{
    *count = 0;
    *list = malloc(sizeof **list);
    if (!*list) return us_error_no_memory(error);
    *count = 1;
    return us_patch_find(ONLY, *list, error);
}
