/* The folder of kept sessions. */
#include <dirent.h>
#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <time.h>
#include <unistd.h>

#include "recorder_file.h"
#include "undersong/file_save.h"
#include "undersong/recorder.h"
#include "undersong/user_folders.h"

static const char PREFIX[] = "undersong-", ENDING[] = ".mid";

enum us_status us_recorder_folder(struct recorder_file *file, struct us_error *error)
{
    char folder[PATH_MAX - 128], stamp[32];
    struct tm now;
    time_t clock = time(NULL);
    if (!us_user_data("sessions", folder, sizeof folder))
        return us_error_set(
            error, US_STATUS_IO,
            "no home folder is known (HOME is not set): the session is not kept; set HOME to your folder");
    if (!us_make_folders(folder))
        return us_error_set(error, US_STATUS_IO,
                            "%s: cannot be made (%s): the session is not kept; see that you may write there",
                            folder, strerror(errno));
    if (!localtime_r(&clock, &now) || !strftime(stamp, sizeof stamp, "%Y%m%d-%H%M%S", &now))
        snprintf(stamp, sizeof stamp, "%lld", (long long)clock);
    for (int again = 1; again < 1000;
         again++) { /* the process in the name: two programs never choose the same */
        snprintf(file->path, sizeof file->path, "%s/%s%s-%ld-%03d%s", folder, PREFIX, stamp, (long)getpid(),
                 again, ENDING);
        if (access(file->path, F_OK) < 0) break;
    }
    return US_STATUS_OK;
}

/* Named as above: one that was given a name of its own is kept for ever. */
static int is_session(const struct dirent *entry)
{
    const char *stamp = entry->d_name + sizeof PREFIX - 1;
    return strncmp(entry->d_name, PREFIX, sizeof PREFIX - 1) == 0 &&
           strcmp(stamp + strspn(stamp, "0123456789-"), ENDING) == 0;
}

/* What a power cut in the middle of us_file_save leaves behind. */
static void remove_leftover(const char *folder, const char *name)
{
    static const char UNFINISHED[] = ".part";
    static const time_t OLD_S = 3600;
    char path[2 * PATH_MAX];
    struct stat known;
    size_t length = strlen(name), ending = sizeof UNFINISHED - 1;
    if (strncmp(name, PREFIX, sizeof PREFIX - 1) != 0 || length < ending ||
        strcmp(name + length - ending, UNFINISHED) != 0)
        return;
    snprintf(path, sizeof path, "%s/%s", folder, name);
    if (stat(path, &known) == 0 && time(NULL) - known.st_mtime > OLD_S) unlink(path);
}

static void remove_leftovers(const char *folder)
{
    DIR *dir = opendir(folder);
    if (!dir) return;
    for (struct dirent *entry; (entry = readdir(dir));)
        remove_leftover(folder, entry->d_name);
    closedir(dir);
}

void us_recorder_prune(const char *path)
{
    char folder[PATH_MAX], victim[2 * PATH_MAX];
    struct dirent **entries;
    snprintf(folder, sizeof folder, "%.*s", (int)(strrchr(path, '/') - path), path);
    int count = scandir(folder, &entries, is_session, alphasort);
    int excess = count - US_RECORDER_SESSIONS;
    for (int i = 0; i < count; i++) {
        if (excess > 0 && strcmp(entries[i]->d_name, strrchr(path, '/') + 1) != 0) {
            snprintf(victim, sizeof victim, "%s/%s", folder, entries[i]->d_name);
            unlink(victim);
            excess--;
        }
        free(entries[i]);
    }
    if (count >= 0) free(entries);
    remove_leftovers(folder);
}
