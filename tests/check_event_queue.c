#include "support.h"

#include <poll.h>
#include <pthread.h>
#include <string.h>

#include "undersong/event_queue.h"

static struct us_event_queue queue;
static struct us_error error;

static void begin(void)
{
    ck_assert_int_eq(us_event_queue_init(&queue, &error), US_STATUS_OK);
}

static void push(int kind, int pitch)
{
    us_event_queue_push(&queue, &(struct us_event){.kind = (uint8_t)kind, .pitch = (uint8_t)pitch});
}

static bool awake(const struct us_source *source)
{
    struct pollfd fd;
    ck_assert_int_eq(source->fds(source->self, &fd), 1);
    return poll(&fd, 1, 0) == 1;
}

START_TEST(events_come_out_in_order_with_the_readers_time)
{
    begin();
    struct us_source source = us_event_queue_source(&queue);
    struct us_event out[US_SOURCE_EVENTS_MAX];
    ck_assert(!awake(&source));
    ck_assert_int_eq(source.read(source.self, 5, out), 0);
    ck_assert_int_eq(source.due(source.self, 5), INT64_MAX);
    push(US_EVENT_NOTE_ON, 60);
    push(US_EVENT_NOTE_OFF, 60);
    ck_assert(awake(&source));
    ck_assert_int_eq(source.due(source.self, 6), 6);
    ck_assert_int_eq(source.read(source.self, 7, out), 2);
    ck_assert_int_eq(out[0].kind, US_EVENT_NOTE_ON);
    ck_assert_int_eq(out[1].kind, US_EVENT_NOTE_OFF);
    ck_assert_int_eq(out[0].at_ns, 7);
    ck_assert(!awake(&source));
    us_event_queue_finish(&queue);
}
END_TEST

/* A release may be among what was lost: so everything is released, after what did get through. */
START_TEST(a_full_queue_releases_everything)
{
    begin();
    struct us_source source = us_event_queue_source(&queue);
    struct us_event out[US_SOURCE_EVENTS_MAX];
    int read = 0, panics = 0, last = -1;
    for (int i = 0; i < US_EVENT_QUEUE_EVENTS + 3; i++)
        push(i % 2 ? US_EVENT_NOTE_OFF : US_EVENT_NOTE_ON, i / 2 % 128);
    for (int count; (count = source.read(source.self, 1, out)) > 0;)
        for (int i = 0; i < count; i++) {
            last = out[i].kind;
            panics += last == US_EVENT_PANIC;
            read += last != US_EVENT_PANIC;
        }
    ck_assert_int_eq(read, US_EVENT_QUEUE_EVENTS);
    ck_assert_int_eq(panics, 1);
    ck_assert_int_eq(last, US_EVENT_PANIC);
    us_event_queue_finish(&queue);
}
END_TEST

enum { MANY = 200000 };

static void *write_many(void *unused)
{
    for (unsigned i = 0; i < MANY; i++) {
        while (i - atomic_load(&queue.tail) >= US_EVENT_QUEUE_EVENTS)
            ;
        us_event_queue_push(&queue, &(struct us_event){.kind = US_EVENT_CONTROL, .value = (int32_t)i});
    }
    return NULL;
}

START_TEST(two_threads_lose_nothing)
{
    begin();
    struct us_source source = us_event_queue_source(&queue);
    struct us_event out[US_SOURCE_EVENTS_MAX];
    pthread_t writer;
    ck_assert_int_eq(pthread_create(&writer, NULL, write_many, NULL), 0);
    int next = 0;
    while (next < MANY) {
        struct pollfd fd;
        source.fds(source.self, &fd);
        if (source.due(source.self, 1) == INT64_MAX) ck_assert_int_ge(poll(&fd, 1, 5000), 1);
        int count = source.read(source.self, 1, out);
        for (int i = 0; i < count; i++)
            ck_assert_int_eq(out[i].value, next++);
    }
    pthread_join(writer, NULL);
    us_event_queue_finish(&queue);
}
END_TEST

int main(void)
{
    const TTest *const TESTS[] = {events_come_out_in_order_with_the_readers_time,
                                  a_full_queue_releases_everything, two_threads_lose_nothing};
    return RUN_TESTS("event_queue", TESTS);
}
