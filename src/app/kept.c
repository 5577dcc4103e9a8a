#include "kept.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <time.h>

#include "undersong/user_folders.h"

enum us_status kept_folder(char *out, size_t size, struct us_error *error)
{
    struct stat about;
    if (!us_user_data("sessions", out, size))
        return us_error_set(
            error, US_STATUS_NOT_FOUND,
            "no home folder is known (HOME is not set), so no session is kept; name a file that "
            "`play --keep FILE.mid` wrote");
    if (stat(out, &about) == 0) return US_STATUS_OK;
    return us_error_set(error, US_STATUS_NOT_FOUND,
                        "%.250s: no sessions kept there yet; name a file that `play --keep FILE.mid` wrote",
                        out);
}

enum us_status kept_lately(double seconds, struct inputs *out, struct us_error *error)
{
    char folder[1024];
    enum us_status status = kept_folder(folder, sizeof folder, error);
    if (status) return status;
    const char *items[] = {folder};
    status = inputs_collect(&(struct text_list){items, 1}, out, error);
    if (status) return us_error_set(error, US_STATUS_NOT_FOUND, "nothing is kept yet");
    size_t kept = 0;
    time_t since = time(NULL) - (time_t)seconds;
    for (size_t i = 0; i < out->count; i++) { /* their names are dates, so they are in order */
        struct stat about;
        if (stat(out->paths[i], &about) == 0 && about.st_mtime >= since)
            out->paths[kept++] = out->paths[i];
        else
            free(out->paths[i]);
    }
    out->count = kept;
    if (kept) return US_STATUS_OK;
    inputs_finish(out);
    return us_error_set(error, US_STATUS_NOT_FOUND, "nothing is kept yet");
}
