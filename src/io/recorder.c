#include "undersong/recorder.h"

#include <pthread.h>
#include <signal.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

#include "recorder_file.h"

enum {
    QUEUE_MAX = 65536,    /* an hour of playing: only a disk that hangs or a flood fills it */
    FLUSH_NS = 200000000, /* with writing and syncing, well under the second that may be lost */
    PENDING_MAX = 200000  /* events held while the disk is full */
};
static const int64_t RETRY_NS = 3000000000; /* after a failure */

struct us_recorder {
    pthread_mutex_t lock;
    pthread_cond_t wake;
    pthread_t thread;
    /* Under the lock. */
    struct us_action *queue;
    size_t count;
    uint64_t lost;
    bool closing;
    /* The thread's own; the opener's before it starts and after it has ended. */
    struct us_recorder_settings settings;
    struct recorder_file file;
    struct us_action *taken;
    struct us_smf_writer *pending; /* NULL: nothing waits to be written */
    size_t pending_count;
    int64_t retry_ns; /* not to be tried again before */
    bool own_folder, has_notes, said_trouble, said_lost, pruned;
};

static int64_t now_ns(void)
{
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return now.tv_sec * INT64_C(1000000000) + now.tv_nsec;
}

static void report(struct us_recorder *r, bool *said, const char *line)
{
    if (!*said && r->settings.report) r->settings.report(r->settings.context, line);
    *said = true;
}

static void report_lost(struct us_recorder *r)
{
    struct us_error error;
    us_error_set(&error, US_STATUS_IO,
                 "%s: some of what was played is not kept: the disk is too slow or full", r->file.path);
    report(r, &r->said_lost, error.text);
}

/* Moves what waits in the queue to the writer. */
static void take(struct us_recorder *r, size_t count)
{
    static const int TRACK[US_VOICES] = {0};
    if (count && !r->pending) {
        r->pending = us_smf_writer_create(US_SMF_PERFORMED_DIVISION);
        if (r->pending) us_smf_writer_continue(r->pending, r->file.tick);
    }
    for (size_t i = 0; i < count; i++) {
        if (!r->pending || r->pending_count >= PENDING_MAX) {
            report_lost(r);
            return;
        }
        if (r->taken[i].kind == US_ACTION_NOTE_ON) r->has_notes = true;
        us_smf_writer_action(r->pending, TRACK, &r->taken[i], r->settings.start_ns);
        r->pending_count++;
    }
}

static void flush(struct us_recorder *r)
{
    struct us_error error;
    if (us_recorder_file_append(&r->file, r->pending, &error)) {
        report(r, &r->said_trouble, error.text);
        r->retry_ns = now_ns() + RETRY_NS;
        return;
    }
    us_smf_writer_destroy(r->pending);
    r->pending = NULL;
    r->pending_count = 0;
    if (r->own_folder && r->has_notes && !r->pruned) {
        us_recorder_prune(r->file.path);
        r->pruned = true;
    }
}

/* The last words of the thread. */
static void finish_file(struct us_recorder *r)
{
    struct us_error error;
    if (r->own_folder && !r->has_notes)
        unlink(r->file.path);
    else if (us_recorder_file_finish(&r->file, &error))
        report(r, &r->said_trouble, error.text);
}

static void wait_until_due(struct us_recorder *r)
{
    struct timespec due;
    while (!r->count && !r->closing && !r->pending)
        pthread_cond_wait(&r->wake, &r->lock);
    clock_gettime(CLOCK_MONOTONIC, &due);
    due.tv_nsec += FLUSH_NS;
    if (due.tv_nsec >= 1000000000) {
        due.tv_nsec -= 1000000000;
        due.tv_sec++;
    }
    while (!r->closing && r->count < QUEUE_MAX / 2)
        if (pthread_cond_timedwait(&r->wake, &r->lock, &due)) break;
}

static void *run(void *argument)
{
    struct us_recorder *r = argument;
    for (bool closing = false; !closing;) {
        pthread_mutex_lock(&r->lock);
        wait_until_due(r);
        struct us_action *full = r->queue;
        size_t count = r->count;
        uint64_t lost = r->lost;
        closing = r->closing;
        r->queue = r->taken;
        r->taken = full;
        r->count = 0;
        pthread_mutex_unlock(&r->lock);
        if (lost) report_lost(r);
        take(r, count);
        if (r->pending && (closing || now_ns() >= r->retry_ns)) flush(r);
    }
    finish_file(r);
    return NULL;
}

void us_recorder_action(struct us_recorder *r, const struct us_action *action)
{
    if (!r) return;
    pthread_mutex_lock(&r->lock);
    if (r->count < QUEUE_MAX)
        r->queue[r->count++] = *action;
    else
        r->lost++;
    if (r->count == 1 || r->count == QUEUE_MAX / 2) pthread_cond_signal(&r->wake);
    pthread_mutex_unlock(&r->lock);
}

const char *us_recorder_path(const struct us_recorder *r)
{
    return r->file.path;
}

static void destroy(struct us_recorder *r)
{
    if (r->file.fd >= 0) close(r->file.fd);
    us_smf_writer_destroy(r->pending);
    pthread_cond_destroy(&r->wake);
    pthread_mutex_destroy(&r->lock);
    free(r->queue);
    free(r->taken);
    free(r);
}

static struct us_recorder *create(const struct us_recorder_settings *settings)
{
    struct us_recorder *r = calloc(1, sizeof *r);
    pthread_condattr_t clock;
    if (!r) return NULL;
    r->settings = *settings;
    r->own_folder = !settings->path;
    r->file.fd = -1;
    pthread_mutex_init(&r->lock, NULL);
    pthread_condattr_init(&clock);
    pthread_condattr_setclock(&clock, CLOCK_MONOTONIC);
    pthread_cond_init(&r->wake, &clock);
    pthread_condattr_destroy(&clock);
    r->queue = malloc(QUEUE_MAX * sizeof *r->queue);
    r->taken = malloc(QUEUE_MAX * sizeof *r->taken);
    if (r->queue && r->taken) return r;
    destroy(r);
    return NULL;
}

static enum us_status make_file(struct us_recorder *r, struct us_error *error)
{
    const char *path = r->settings.path;
    if (path && strlen(path) >= sizeof r->file.path)
        return us_error_set(error, US_STATUS_BAD_INPUT,
                            "the name of the file to keep is too long; shorten it");
    if (path) memcpy(r->file.path, path, strlen(path) + 1);
    enum us_status status = path ? US_STATUS_OK : us_recorder_folder(&r->file, error);
    return status ? status : us_recorder_file_create(&r->file, error);
}

/* The thread takes no signals: they are the program's, and a file-size limit shall be an error, not the end.
 */
static int start_thread(struct us_recorder *r)
{
    sigset_t all, before;
    sigfillset(&all);
    pthread_sigmask(SIG_SETMASK, &all, &before);
    int failed = pthread_create(&r->thread, NULL, run, r);
    pthread_sigmask(SIG_SETMASK, &before, NULL);
    return failed;
}

enum us_status us_recorder_open(struct us_recorder **out, const struct us_recorder_settings *settings,
                                struct us_error *error)
{
    *out = NULL;
    struct us_recorder *r = create(settings);
    if (!r) return us_error_set(error, US_STATUS_NO_MEMORY, "not enough memory to keep the session");
    enum us_status status = make_file(r, error);
    if (!status && start_thread(r))
        status = us_error_set(error, US_STATUS_NO_MEMORY,
                              "%s: the session is not kept: no thread can be started", r->file.path);
    if (status) {
        destroy(r);
        return status;
    }
    *out = r;
    return US_STATUS_OK;
}

enum us_status us_recorder_close(struct us_recorder *r, struct us_error *error)
{
    if (!r) return US_STATUS_OK;
    pthread_mutex_lock(&r->lock);
    r->closing = true;
    pthread_cond_signal(&r->wake);
    pthread_mutex_unlock(&r->lock);
    pthread_join(r->thread, NULL);
    enum us_status status = US_STATUS_OK;
    if (r->pending || r->said_lost)
        status =
            us_error_set(error, US_STATUS_IO,
                         "%s: not all of the session could be kept; make room on the disk", r->file.path);
    destroy(r);
    return status;
}
