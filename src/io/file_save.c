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

enum us_status us_file_part_begin(struct us_file_part *p, const char *path, mode_t mode,
                                  struct us_error *error)
{
    struct stat known;
    *p->part = 0;
    /* Asked before the link is looked through: the system may forbid to follow a stranger's. */
    bool there = stat(path, &known) == 0;
    if (!there && errno != ENOENT) return cannot(path, error);
    if (!realpath(path, p->target)) { /* a link stays a link: its target is replaced */
        if (errno != ENOENT || strlen(path) >= sizeof p->target) return cannot(path, error);
        memcpy(p->target, path, strlen(path) + 1);
    }
    bool special = there && !S_ISREG(known.st_mode);
    if (there && !special && access(path, W_OK)) return cannot(path, error); /* protected by its owner */
    if (there && !special) mode &= known.st_mode; /* what others could not read stays so */
    p->fd = special ? open(p->target, O_WRONLY | O_CLOEXEC)
                    : open_beside(p->target, mode, p->part, sizeof p->part);
    return p->fd < 0 ? cannot(path, error) : US_STATUS_OK;
}

static enum us_status keep(struct us_file_part *p, bool done, bool sync, struct us_error *error)
{
    if (done && sync && *p->part && fsync(p->fd)) done = false;
    if (close(p->fd) < 0) done = false;
    if (done && *p->part && rename(p->part, p->target)) done = false;
    if (done && sync && *p->part) sync_folder(p->target);
    if (done) return US_STATUS_OK;
    enum us_status status = cannot(p->target, error);
    if (*p->part) unlink(p->part);
    return status;
}

enum us_status us_file_part_keep(struct us_file_part *p, struct us_error *error)
{
    return keep(p, true, true, error);
}

void us_file_part_drop(struct us_file_part *p)
{
    close(p->fd);
    if (*p->part) unlink(p->part);
}

static enum us_status replace(const char *path, const void *bytes, size_t size, mode_t mode, bool sync,
                              struct us_error *error)
{
    struct us_file_part p;
    enum us_status status = us_file_part_begin(&p, path, mode, error);
    return status ? status : keep(&p, write_all(p.fd, bytes, size), sync, error);
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
