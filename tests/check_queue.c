#include "support.h"

#include "undersong/queue.h"
#include "undersong/snapshot.h"

#include <pthread.h>
#include <sched.h>

static struct us_action note(uint8_t kind, int voice, int pitch, int64_t at)
{
    return (struct us_action){.at_ns = at, .kind = kind, .voice = (uint8_t)voice, .pitch = (uint8_t)pitch};
}

START_TEST(order_is_kept)
{
    struct us_queue *q = us_queue_create(0);
    struct us_action out;
    ck_assert(!us_queue_pop(q, &out));
    for (int64_t i = 0; i < 5000; i++) {
        struct us_action a = note(US_ACTION_BEAT, 0, 0, i);
        ck_assert(us_queue_push(q, &a));
        ck_assert_int_eq(us_queue_peek(q)->at_ns, i);
        ck_assert(us_queue_pop(q, &out));
        ck_assert_int_eq(out.at_ns, i);
    }
    ck_assert(!us_queue_peek(q));
    ck_assert_uint_eq(us_queue_dropped(q), 0);
    us_queue_destroy(q);
}
END_TEST

/* Nobody reads: notes are refused in time for the release of every note that was let in. */
START_TEST(releases_always_fit)
{
    struct us_queue *q = us_queue_create(0);
    uint32_t let_in = 0, refused = 0;
    for (int round = 0; round < 20; round++)
        for (int voice = 0; voice < US_VOICES; voice++)
            for (int pitch = 0; pitch < US_PITCHES; pitch++) {
                struct us_action a = note(US_ACTION_NOTE_ON, voice, pitch, 0);
                if (us_queue_push(q, &a))
                    let_in++;
                else
                    refused++;
            }
    ck_assert_uint_gt(refused, 0);
    ck_assert_uint_eq(us_queue_dropped(q), refused);
    ck_assert_uint_eq(let_in, US_QUEUE_CAPACITY_MIN - US_VOICES * US_PITCHES);
    for (int voice = 0; voice < US_VOICES; voice++)
        for (int pitch = 0; pitch < US_PITCHES; pitch++) {
            struct us_action a = note(US_ACTION_NOTE_OFF, voice, pitch, 0);
            ck_assert(us_queue_push(q, &a));
        }
    struct us_action beat = note(US_ACTION_BEAT, 0, 0, 0);
    ck_assert(!us_queue_push(q, &beat));
    struct us_action taken, late = note(US_ACTION_NOTE_OFF, 0, 60, 0);
    while (us_queue_pop(q, &taken))
        ;
    ck_assert(!us_queue_push(q, &late)); /* with room for it, too: that note never began */
    ck_assert(!us_queue_pop(q, &taken));
    us_queue_destroy(q);
}
END_TEST

START_TEST(all_off_fits_too)
{
    struct us_queue *q = us_queue_create(0);
    struct us_action on = note(US_ACTION_NOTE_ON, US_VOICE_LEFT, 48, 0), beat = note(US_ACTION_BEAT, 0, 0, 0);
    ck_assert(us_queue_push(q, &on));
    while (us_queue_push(q, &beat))
        ;
    struct us_action off = note(US_ACTION_ALL_OFF, US_VOICE_LEFT, 0, 0);
    ck_assert(us_queue_push(q, &off));
    ck_assert(!us_queue_push(q, &off)); /* nothing sounds any more and there is no room: nothing is owed */
    us_queue_destroy(q);
}
END_TEST

enum { STRESS = 2000000 };
struct stress {
    struct us_queue *q;
    uint32_t sent;
};

static void *produce(void *arg)
{
    struct stress *s = arg;
    uint32_t random = 1;
    for (int64_t i = 0; i < STRESS; i++) {
        random = random * 1664525 + 1013904223;
        uint8_t kind = random >> 31 ? US_ACTION_NOTE_ON : US_ACTION_NOTE_OFF;
        struct us_action a =
            note(kind, (int)((random >> 20) % US_VOICES), (int)((random >> 8) % US_PITCHES), i);
        s->sent += us_queue_push(s->q, &a);
    }
    for (int voice = 0; voice < US_VOICES; voice++)
        for (int pitch = 0; pitch < US_PITCHES; pitch++) {
            struct us_action a = note(US_ACTION_NOTE_OFF, voice, pitch, STRESS);
            s->sent += us_queue_push(s->q, &a);
        }
    struct us_action end = note(US_ACTION_BEAT, 0, 0, INT64_MAX);
    while (!us_queue_push(s->q, &end))
        sched_yield();
    return NULL;
}

/* Two threads: all that was let in arrives, once and in order, and no note is left sounding. */
START_TEST(two_threads)
{
    struct stress s = {us_queue_create(0), 0};
    pthread_t thread;
    ck_assert_int_eq(pthread_create(&thread, NULL, produce, &s), 0);
    bool sounding[US_VOICES][US_PITCHES] = {{false}};
    uint32_t got = 0;
    int64_t last = -1;
    for (;;) {
        struct us_action a;
        if (!us_queue_pop(s.q, &a)) {
            sched_yield();
            continue;
        }
        if (a.at_ns == INT64_MAX) break;
        ck_assert_int_ge(a.at_ns, last);
        last = a.at_ns;
        sounding[a.voice][a.pitch] = a.kind == US_ACTION_NOTE_ON;
        got++;
    }
    pthread_join(thread, NULL);
    ck_assert_uint_eq(got, s.sent);
    for (int voice = 0; voice < US_VOICES; voice++)
        for (int pitch = 0; pitch < US_PITCHES; pitch++)
            ck_assert(!sounding[voice][pitch]);
    us_queue_destroy(s.q);
}
END_TEST

static void *publish(void *arg)
{
    struct us_snapshot_box *box = arg;
    for (int32_t i = 1; i <= 300000; i++) {
        struct us_snapshot *s = us_snapshot_box_back(box);
        s->bar = i;
        s->at_ns = i;
        s->quarter_ns = i;
        us_snapshot_box_publish(box);
    }
    return NULL;
}

/* The reader never sees half of a picture, never an older one, and at the end the last. */
START_TEST(snapshot_is_whole)
{
    static struct us_snapshot_box box;
    us_snapshot_box_init(&box);
    bool fresh;
    ck_assert_int_eq(us_snapshot_box_latest(&box, &fresh)->melody, -1);
    ck_assert(!fresh);
    pthread_t thread;
    ck_assert_int_eq(pthread_create(&thread, NULL, publish, &box), 0);
    int32_t last = 0;
    while (last < 300000) {
        const struct us_snapshot *s = us_snapshot_box_latest(&box, &fresh);
        ck_assert(s->at_ns == s->bar && s->quarter_ns == s->bar);
        ck_assert(fresh ? s->bar > last : s->bar == last);
        last = s->bar;
        if (!fresh) sched_yield();
    }
    pthread_join(thread, NULL);
}
END_TEST

int main(void)
{
    const TTest *const TESTS[] = {order_is_kept, releases_always_fit, all_off_fits_too, two_threads,
                                  snapshot_is_whole};
    return RUN_TESTS("queue", TESTS);
}
