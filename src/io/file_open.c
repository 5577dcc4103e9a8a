#include "file_open.h"

#include <errno.h>
#include <fcntl.h>
#include <stdbool.h>
#include <unistd.h>

FILE *file_open(const char *path)
{
    int fd = open(path, O_RDONLY | O_CLOEXEC | O_NONBLOCK);
    int flags = fd < 0 ? -1 : fcntl(fd, F_GETFL);
    bool ready = flags >= 0 && fcntl(fd, F_SETFL, flags & ~O_NONBLOCK) == 0;
    FILE *file = ready ? fdopen(fd, "rb") : NULL;
    int failed = errno;
    if (!file && fd >= 0) close(fd);
    if (!file) errno = failed;
    return file;
}
