#include "undersong/engrave.h"

#include <dirent.h>
#include <errno.h>
#include <fcntl.h>
#include <limits.h>
#include <signal.h>
#include <spawn.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

#include "undersong/file_save.h"

extern char **environ;

static const char *const PROGRAM = "lilypond";
enum { FOLDER_SIZE = 512, PAGES_MAX = 200 };

static enum us_status start_error(int code, struct us_error *error)
{
    if (code == ENOENT)
        return us_error_set(
            error, US_STATUS_IO,
            "lilypond is not installed; install the package lilypond, or take --format lilypond "
            "and engrave it elsewhere");
    return us_error_set(error, US_STATUS_IO, "lilypond: cannot be started: %s", strerror(code));
}

/* What it says goes to a file, so that its first complaint can be shown.  `mask`: the signals that it blocks.
 */
static int start(const char *folder, bool png, const sigset_t *mask, pid_t *pid)
{
    char base[FOLDER_SIZE + 32], source[FOLDER_SIZE + 32], said[FOLDER_SIZE + 32];
    snprintf(base, sizeof base, "--output=%s/sheet", folder);
    snprintf(source, sizeof source, "%s/sheet.ly", folder);
    snprintf(said, sizeof said, "%s/said", folder);
    char program[] = "lilypond", quiet[] = "--loglevel=ERROR", links[] = "-dno-point-and-click";
    char pdf[] = "--pdf", picture[] = "--png", fine[] = "-dresolution=150";
    char *arguments[] = {program, quiet, links, png ? picture : pdf, fine, base, source, NULL};
    posix_spawn_file_actions_t actions;
    int code = posix_spawn_file_actions_init(&actions);
    if (code) return code;
    code = posix_spawn_file_actions_addopen(&actions, STDIN_FILENO, "/dev/null", O_RDONLY, 0);
    if (!code) code = posix_spawn_file_actions_addopen(&actions, STDOUT_FILENO, "/dev/null", O_WRONLY, 0);
    if (!code)
        code = posix_spawn_file_actions_addopen(&actions, STDERR_FILENO, said, O_WRONLY | O_CREAT | O_TRUNC,
                                                0600);
    posix_spawnattr_t how;
    if (!code && !(code = posix_spawnattr_init(&how))) {
        code = posix_spawnattr_setsigmask(&how, mask);
        if (!code) code = posix_spawnattr_setflags(&how, POSIX_SPAWN_SETSIGMASK);
        if (!code) code = posix_spawnp(pid, PROGRAM, &actions, &how, arguments, environ);
        posix_spawnattr_destroy(&how);
    }
    posix_spawn_file_actions_destroy(&actions);
    return code;
}

static enum us_status complain(const char *folder, struct us_error *error)
{
    char path[FOLDER_SIZE + 32], line[200] = "";
    snprintf(path, sizeof path, "%s/said", folder);
    FILE *said = fopen(path, "r");
    while (said && fgets(line, sizeof line, said) && !strstr(line, "error"))
        ;
    if (said) fclose(said);
    line[strcspn(line, "\n")] = 0;
    return us_error_set(error, US_STATUS_IO, "lilypond failed: %s; --format lilypond shows the source",
                        *line ? line : "it gave no reason");
}

/* Waits for it; where this process is told to end meanwhile, it ends first.  The signal, or 0. */
static int wait_for(pid_t pid, const sigset_t *ends, int *status)
{
    const struct timespec look = {.tv_nsec = 20000000};
    int told = 0;
    pid_t done;
    while ((done = waitpid(pid, status, WNOHANG)) == 0 || (done < 0 && errno == EINTR)) {
        int signal = sigtimedwait(ends, NULL, &look);
        if (signal <= 0) continue;
        told = signal;
        kill(pid, SIGTERM);
    }
    return told;
}

/* `ends`: signals, blocked, that end the program; `mask`: those that were blocked before. */
static enum us_status run(const char *folder, bool png, const sigset_t *ends, const sigset_t *mask,
                          struct us_error *error)
{
    pid_t pid;
    int status = 0, code = start(folder, png, mask, &pid);
    if (code) return start_error(code, error);
    int told = wait_for(pid, ends, &status);
    if (told) raise(told); /* delivered when it is blocked no more */
    if (told) return us_error_set(error, US_STATUS_IO, "lilypond: stopped");
    return WIFEXITED(status) && WEXITSTATUS(status) == 0 ? US_STATUS_OK : complain(folder, error);
}

static enum us_status copy_file(const char *from, const char *to, struct us_error *error)
{
    FILE *file = fopen(from, "rb");
    char *bytes = NULL;
    long size = -1;
    if (file && !fseek(file, 0, SEEK_END) && (size = ftell(file)) >= 0) {
        rewind(file);
        bytes = malloc((size_t)size + 1);
    }
    bool got = bytes && fread(bytes, 1, (size_t)size, file) == (size_t)size;
    if (file) fclose(file);
    enum us_status status = got ? us_file_save(to, bytes, (size_t)size, 0666, error)
                                : us_error_set(error, US_STATUS_IO, "lilypond: wrote no page");
    free(bytes);
    return status;
}

/* One page is NAME.png; of several each has its number. */
static enum us_status fetch_pictures(const char *folder, const char *path, struct us_error *error)
{
    char from[FOLDER_SIZE + 64], to[PATH_MAX];
    snprintf(from, sizeof from, "%s/sheet.png", folder);
    if (access(from, R_OK) == 0) return copy_file(from, path, error);
    const char *slash = strrchr(path, '/'), *dot = strrchr(slash ? slash : path, '.');
    int stem = dot ? (int)(dot - path) : (int)strlen(path);
    enum us_status status = us_error_set(error, US_STATUS_IO, "lilypond: wrote no page");
    for (int page = 1; page <= PAGES_MAX; page++) {
        snprintf(from, sizeof from, "%s/sheet-page%d.png", folder, page);
        if (access(from, R_OK)) break;
        snprintf(to, sizeof to, "%.*s-%d%s", stem, path, page, dot ? dot : ".png");
        status = copy_file(from, to, error);
        if (status) break;
    }
    return status;
}

static void remove_folder(const char *folder)
{
    DIR *list = opendir(folder);
    struct dirent *entry;
    char path[FOLDER_SIZE + 300];
    while (list && (entry = readdir(list))) {
        snprintf(path, sizeof path, "%s/%s", folder, entry->d_name);
        if (strcmp(entry->d_name, ".") && strcmp(entry->d_name, "..")) unlink(path);
    }
    if (list) closedir(list);
    rmdir(folder);
}

/* Signals that end the program are held back meanwhile, so that the folder is always removed. */
static void hold_back(sigset_t *ends, sigset_t *before)
{
    sigemptyset(ends);
    sigaddset(ends, SIGINT);
    sigaddset(ends, SIGTERM);
    sigaddset(ends, SIGHUP);
    pthread_sigmask(SIG_BLOCK, ends, before);
}

static enum us_status engrave_in(const char *folder, const char *source, size_t size, const char *path,
                                 bool png, struct us_error *error)
{
    char file[FOLDER_SIZE + 32];
    sigset_t ends, before;
    hold_back(&ends, &before);
    snprintf(file, sizeof file, "%s/sheet.ly", folder);
    enum us_status status = us_file_save(file, source, size, 0600, error);
    if (!status) status = run(folder, png, &ends, &before, error);
    if (!status && png) status = fetch_pictures(folder, path, error);
    if (!status && !png) {
        snprintf(file, sizeof file, "%s/sheet.pdf", folder);
        status = copy_file(file, path, error);
    }
    remove_folder(folder);
    pthread_sigmask(SIG_SETMASK, &before, NULL);
    return status;
}

enum us_status us_engrave(const char *source, size_t size, const char *path, bool png, struct us_error *error)
{
    const char *temporary = getenv("TMPDIR");
    char folder[FOLDER_SIZE];
    snprintf(folder, sizeof folder, "%.400s/undersong-XXXXXX", temporary && *temporary ? temporary : "/tmp");
    if (!mkdtemp(folder))
        return us_error_set(error, US_STATUS_IO, "%.200s: cannot make a folder there: %s", folder,
                            strerror(errno));
    return engrave_in(folder, source, size, path, png, error);
}
