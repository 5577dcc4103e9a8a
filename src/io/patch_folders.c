/* Where patches lie: the user's folder first, then those that came with the program. */
#include "undersong/patch.h"
#include "undersong/program_folder.h"
#include "undersong/user_folders.h"

#include <dirent.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

enum { FOLDERS = 2 };

static void find_folders(char folders[FOLDERS][300])
{
    us_user_config("patches", folders[0], sizeof folders[0]);
    if (!us_beside_program("undersong-patches", folders[1], sizeof folders[1]))
        snprintf(folders[1], sizeof folders[1], "%s", US_PATCH_INSTALLED);
}

static bool ends_with_ini(const char *name)
{
    size_t length = strlen(name);
    return length > 4 && strcmp(name + length - 4, ".ini") == 0;
}

enum us_status us_patch_find(const char *name, struct us_patch *patch, struct us_error *error)
{
    if (strchr(name, '/') || ends_with_ini(name)) return us_patch_read(name, patch, error);
    char folders[FOLDERS][300], path[400];
    find_folders(folders);
    for (int i = *folders[0] ? 0 : 1; i < FOLDERS; i++) {
        snprintf(path, sizeof path, "%.299s/%.60s.ini", folders[i], name);
        if (access(path, F_OK) == 0) return us_patch_read(path, patch, error);
    }
    return us_error_set(error, US_STATUS_NOT_FOUND,
                        "no patch is called %.60s; `undersong ports --patches` lists them", name);
}

struct listing {
    struct us_patch *items;
    size_t count, room;
};

static bool has_id(const struct listing *l, const char *id)
{
    for (size_t i = 0; i < l->count; i++)
        if (strcmp(l->items[i].id, id) == 0) return true;
    return false;
}

static bool add(struct listing *l, const char *folder, const char *file)
{
    if (l->count == l->room) {
        size_t room = l->room ? 2 * l->room : 16;
        struct us_patch *grown = realloc(l->items, room * sizeof *grown);
        if (!grown) return false;
        l->items = grown;
        l->room = room;
    }
    struct us_patch *patch = &l->items[l->count];
    struct us_error error;
    char path[400];
    snprintf(path, sizeof path, "%.299s/%.90s", folder, file);
    if (us_patch_read(path, patch, &error)) {
        patch->name[0] = 0;
        snprintf(patch->about, sizeof patch->about, "%.159s", error.text);
    }
    if (!has_id(l, patch->id)) l->count++;
    return true;
}

static int by_id(const void *a, const void *b)
{
    return strcmp(((const struct us_patch *)a)->id, ((const struct us_patch *)b)->id);
}

enum us_status us_patch_list(struct us_patch **list, size_t *count, struct us_error *error)
{
    struct listing l = {0};
    char folders[FOLDERS][300];
    find_folders(folders);
    bool ok = true;
    for (int i = 0; i < FOLDERS; i++) {
        DIR *dir = opendir(folders[i]);
        if (!dir) continue;
        struct dirent *entry;
        while (ok && (entry = readdir(dir)))
            if (ends_with_ini(entry->d_name)) ok = add(&l, folders[i], entry->d_name);
        closedir(dir);
    }
    if (!ok) {
        free(l.items);
        return us_error_no_memory(error);
    }
    if (l.count) qsort(l.items, l.count, sizeof *l.items, by_id);
    *list = l.items;
    *count = l.count;
    return US_STATUS_OK;
}
