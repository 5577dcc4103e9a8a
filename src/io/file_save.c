#include "undersong/file_save.h"

#include <errno.h>
#include <fcntl.h>
#include <limits.h>
#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

static enum us_status cannot(const char *path, struct us_error *error)
{
    return us_error_set(error, US_STATUS_IO, "%s: cannot be written (%s); choose another place or make room",
                        path, strerror(errno));
}

static bool write_all(int fd, const uint8_t *bytes, size_t size)
{
    while (size) {
        ssize_t wrote = write(fd, bytes, size);
        if (wrote < 0 && errno == EINTR) continue;
        if (wrote < 0) return false;
        bytes += wrote;
        size -= (size_t)wrote;
    }
    return true;
}

static enum us_status write_directly(const char *path, const void *bytes, size_t size, struct us_error *error)
{
    int fd = open(path, O_WRONLY | O_CLOEXEC);
    if (fd < 0) return cannot(path, error);
    bool done = write_all(fd, bytes, size);
    if (close(fd) < 0) done = false;
    return done ? US_STATUS_OK : cannot(path, error);
}

/* A new file in the same folder, which nobody else can have opened. */
static int open_beside(const char *path, mode_t mode, char *name, size_t size)
{
    for (int attempt = 0; attempt < 100; attempt++) {
        int length = snprintf(name, size, "%s.%ld-%d.part", path, (long)getpid(), attempt);
        if (length < 0 || (size_t)length >= size) {
            errno = ENAMETOOLONG;
            return -1;
        }
        int fd = open(name, O_WRONLY | O_CREAT | O_EXCL | O_NOFOLLOW | O_CLOEXEC, mode);
        if (fd >= 0 || errno != EEXIST) return fd;
    }
    return -1;
}

/* So that the new name outlives a power cut; what cannot be helped here is no failure. */
static void sync_folder(const char *path)
{
    char folder[PATH_MAX];
    const char *slash = strrchr(path, '/');
    int length = slash ? (int)(slash - path) : 0;
    snprintf(folder, sizeof folder, "%.*s", length ? length : 1, slash ? path : ".");
    int fd = open(folder, O_RDONLY | O_DIRECTORY | O_CLOEXEC);
    if (fd < 0) return;
    fsync(fd);
    close(fd);
}

static enum us_status replace(const char *path, const void *bytes, size_t size, mode_t mode, bool sync,
                              struct us_error *error)
{
    char target[PATH_MAX], part[PATH_MAX + 32];
    if (!realpath(path, target)) { /* a link stays a link: its target is replaced */
        if (errno != ENOENT || strlen(path) >= sizeof target) return cannot(path, error);
        memcpy(target, path, strlen(path) + 1);
    }
    struct stat known;
    if (stat(target, &known) == 0 && !S_ISREG(known.st_mode)) return write_directly(path, bytes, size, error);
    int fd = open_beside(target, mode, part, sizeof part);
    if (fd < 0) return cannot(path, error);
    bool done = write_all(fd, bytes, size) && (!sync || fsync(fd) == 0);
    if (close(fd) < 0) done = false;
    if (done && rename(part, target) == 0) {
        if (sync) sync_folder(target);
        return US_STATUS_OK;
    }
    enum us_status status = cannot(path, error);
    unlink(part);
    return status;
}

enum us_status us_file_save(const char *path, const void *bytes, size_t size, mode_t mode,
                            struct us_error *error)
{
    return replace(path, bytes, size, mode, true, error);
}

enum us_status us_file_save_many(const char *path, const void *bytes, size_t size, mode_t mode,
                                 struct us_error *error)
{
    return replace(path, bytes, size, mode, false, error);
}

bool us_make_folders(const char *path)
{
    char part[PATH_MAX];
    size_t length = strlen(path);
    if (length == 0 || length >= sizeof part) {
        errno = length ? ENAMETOOLONG : ENOENT;
        return false;
    }
    for (size_t i = 1; i <= length; i++) {
        if (path[i] != '/' && path[i]) continue;
        memcpy(part, path, i);
        part[i] = 0;
        if (mkdir(part, 0700) < 0 && errno != EEXIST) return false;
    }
    return true;
}
