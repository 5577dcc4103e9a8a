#include "undersong/event_queue.h"

#include <string.h>
#include <sys/eventfd.h>
#include <unistd.h>

enum us_status us_event_queue_init(struct us_event_queue *q, struct us_error *error)
{
    memset(q, 0, sizeof *q);
    q->wake_fd = eventfd(0, EFD_NONBLOCK | EFD_CLOEXEC);
    if (q->wake_fd < 0)
        return us_error_set(error, US_STATUS_IO, "no more files can be opened; close some programs");
    return US_STATUS_OK;
}

void us_event_queue_finish(struct us_event_queue *q)
{
    if (q->wake_fd > 0) close(q->wake_fd);
    q->wake_fd = -1;
}

void us_event_queue_push(struct us_event_queue *q, const struct us_event *event)
{
    unsigned head = atomic_load_explicit(&q->head, memory_order_relaxed);
    if (head - atomic_load_explicit(&q->tail, memory_order_acquire) == US_EVENT_QUEUE_EVENTS) {
        atomic_store(&q->overrun, true);
    } else {
        q->events[head % US_EVENT_QUEUE_EVENTS] = *event;
        atomic_store_explicit(&q->head, head + 1, memory_order_release);
    }
    uint64_t one = 1;
    ssize_t wrote = write(q->wake_fd, &one, sizeof one);
    (void)wrote; /* a full counter wakes too */
}

static int queue_fds(void *self, struct pollfd *out)
{
    const struct us_event_queue *q = self;
    *out = (struct pollfd){.fd = q->wake_fd, .events = POLLIN};
    return 1;
}

static int64_t queue_due(void *self, int64_t now_ns)
{
    struct us_event_queue *q = self;
    unsigned tail = atomic_load_explicit(&q->tail, memory_order_relaxed);
    return tail != atomic_load_explicit(&q->head, memory_order_acquire) ? now_ns : INT64_MAX;
}

static int queue_read(void *self, int64_t now_ns, struct us_event *out)
{
    struct us_event_queue *q = self;
    uint64_t woken;
    ssize_t got = read(q->wake_fd, &woken, sizeof woken); /* first: what comes after it wakes again */
    (void)got;
    int count = 0;
    unsigned tail = atomic_load_explicit(&q->tail, memory_order_relaxed);
    while (count < US_SOURCE_EVENTS_MAX - 1 && tail != atomic_load_explicit(&q->head, memory_order_acquire)) {
        out[count] = q->events[tail++ % US_EVENT_QUEUE_EVENTS];
        out[count++].at_ns = now_ns;
        atomic_store_explicit(&q->tail, tail, memory_order_release);
    }
    if (atomic_load(&q->overrun) && tail == atomic_load_explicit(&q->head, memory_order_acquire)) {
        atomic_store(&q->overrun, false);
        out[count++] = (struct us_event){.at_ns = now_ns, .kind = US_EVENT_PANIC};
    }
    return count;
}

struct us_source us_event_queue_source(struct us_event_queue *q)
{
    return (struct us_source){.self = q, .fds = queue_fds, .read = queue_read, .due = queue_due};
}
