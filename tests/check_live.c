#include "support.h"

#include "undersong/byte_stream.h"
#include "undersong/clock.h"
#include "undersong/live.h"

#include <fcntl.h>
#include <pthread.h>
#include <signal.h>
#include <stdatomic.h>
#include <stdlib.h>
#include <string.h>
#include <sys/ioctl.h>
#include <time.h>
#include <unistd.h>

struct rig {
    struct us_companion *companion;
    struct us_live *live;
    struct us_input input;
    struct us_byte_source source;
    struct us_byte_sink sink;
    struct us_snapshot_box box;
    int to[2], from[2];
    pthread_t thread;
};
static struct rig rig;

static void *run(void *arg)
{
    us_live_run(arg);
    close(rig.from[1]); /* the reader's end of file */
    return NULL;
}

static void set_up(int split)
{
    struct us_companion_settings settings = {
        .key = {0, US_MODE_MAJOR}, .metre = {4, 4}, .pickup = 0, .share = 100, .chords = US_CHORDS_PRIMARY};
    signal(SIGPIPE, SIG_IGN);
    ck_assert_int_eq(pipe(rig.to), 0);
    ck_assert_int_eq(pipe(rig.from), 0);
    rig.companion = malloc(us_companion_size());
    us_companion_init(rig.companion, &settings);
    us_input_init(&rig.input);
    us_snapshot_box_init(&rig.box);
    struct us_live_settings live = {.companion = rig.companion,
                                    .origin_ns = us_clock_ns(),
                                    .source_count = 1,
                                    .sink_count = 1,
                                    .split = split,
                                    .box = &rig.box};
    live.sources[0] = us_byte_source(&rig.source, rig.to[0], &rig.input);
    live.sinks[0] = us_byte_sink(&rig.sink, rig.from[1]);
    struct us_error error;
    ck_assert_int_eq(us_live_create(&rig.live, &live, &error), US_STATUS_OK);
    ck_assert_int_eq(pthread_create(&rig.thread, NULL, run, rig.live), 0);
}

static void tear_down(void)
{
    us_live_destroy(rig.live);
    free(rig.companion);
}

static void play(int status, int data1, int data2)
{
    uint8_t bytes[3] = {(uint8_t)status, (uint8_t)data1, (uint8_t)data2};
    ck_assert_int_eq(write(rig.to[1], bytes, 3), 3);
}

struct heard {
    int on[3], off[3], all_off[3], down[3][128];
};

/* Reads to the end of the stream and keeps count. */
static struct heard listen_to_end(void)
{
    struct heard h = {{0}, {0}, {0}, {{0}}};
    struct us_midi_parser parser = {0};
    struct us_midi_message m;
    uint8_t byte;
    while (read(rig.from[0], &byte, 1) == 1) {
        if (!us_midi_parser_byte(&parser, byte, &m)) continue;
        int voice = m.status & 15;
        ck_assert_int_lt(voice, 3);
        if ((m.status & 0xF0) == US_MIDI_NOTE_ON) h.on[voice]++, h.down[voice][m.data1] = 1;
        if ((m.status & 0xF0) == US_MIDI_NOTE_OFF) h.off[voice]++, h.down[voice][m.data1] = 0;
        if ((m.status & 0xF0) == US_MIDI_CONTROL && m.data1 == 123) h.all_off[voice]++;
    }
    return h;
}

static void nothing_sounds(const struct heard *h)
{
    for (int voice = 0; voice < 3; voice++) {
        ck_assert_int_ge(h->all_off[voice], 1);
        for (int pitch = 0; pitch < 128; pitch++)
            ck_assert_msg(!h->down[voice][pitch], "voice %d, pitch %d", voice, pitch);
    }
}

static void play_bars(int notes, int gap_ms)
{
    static const int TUNE[] = {60, 64, 67, 64, 65, 62, 59, 60};
    for (int i = 0; i < notes; i++) {
        play(0x90, TUNE[i % 8], 90);
        sleep_ms(gap_ms);
        play(0x80, TUNE[i % 8], 64);
    }
}

/* Bytes in, bytes out: the melody comes through, a left hand is under it, and at the end of the input, with a
   key still held, everything is released. */
START_TEST(plays_and_releases_at_the_end)
{
    set_up(0);
    play_bars(8, 60);
    play(0x90, 72, 90);
    close(rig.to[1]);
    pthread_join(rig.thread, NULL);
    struct heard h = listen_to_end();
    ck_assert_int_eq(h.on[US_VOICE_MELODY], 9);
    ck_assert_int_ge(h.on[US_VOICE_LEFT], 3);
    nothing_sounds(&h);
    tear_down();
}
END_TEST

START_TEST(stops_when_told)
{
    set_up(0);
    play_bars(3, 30);
    play(0x90, 60, 90);
    sleep_ms(30);
    us_live_stop(rig.live);
    pthread_join(rig.thread, NULL);
    struct heard h = listen_to_end();
    ck_assert_int_eq(h.on[US_VOICE_MELODY], 4);
    nothing_sounds(&h);
    tear_down();
}
END_TEST

static void on_close(void *user)
{
    us_live_stop(user);
}

START_TEST(the_reader_goes_away)
{
    set_up(0);
    rig.sink.user = rig.live;
    rig.sink.on_close = on_close;
    play_bars(1, 20);
    close(rig.from[0]);
    play_bars(2, 20);
    pthread_join(rig.thread, NULL);
    ck_assert(rig.sink.closed);
    tear_down();
}
END_TEST

/* Nobody reads while four thousand notes are played: the process does not stand still, some notes are not
   begun, and every note that was begun is released. */
START_TEST(a_reader_that_does_not_read)
{
    set_up(0);
    fcntl(rig.from[1], F_SETPIPE_SZ, 4096);
    for (int i = 0; i < 4000; i++) {
        play(0x90, 48 + i % 40, 90);
        if (i % 3) play(0x80, 48 + (i - 2) % 40, 64);
    }
    for (int waited_ms = 0, left = 1; left; waited_ms += 10) { /* it takes them all */
        sleep_ms(10);
        ck_assert_int_eq(ioctl(rig.to[0], FIONREAD, &left), 0);
        ck_assert_int_lt(waited_ms, 30000);
    }
    bool fresh;
    us_snapshot_box_latest(&rig.box, &fresh);
    ck_assert(fresh);
    us_live_stop(rig.live);
    fcntl(rig.from[0], F_SETFL, 0);
    struct heard h = listen_to_end();
    pthread_join(rig.thread, NULL);
    nothing_sounds(&h);
    ck_assert_int_gt(h.on[US_VOICE_MELODY], 100);
    ck_assert_uint_gt(rig.sink.dropped, 0);
    tear_down();
}
END_TEST

/* Below the split the learner's own left hand sounds and is not followed. */
START_TEST(split)
{
    set_up(55);
    play(0x90, 40, 90);
    play(0x90, 47, 90);
    sleep_ms(50);
    ck_assert_int_eq(us_snapshot_box_latest(&rig.box, NULL)->melody, -1);
    play(0x80, 40, 64);
    play(0x80, 47, 64);
    close(rig.to[1]);
    pthread_join(rig.thread, NULL);
    struct heard h = listen_to_end();
    ck_assert_int_eq(h.on[US_VOICE_MELODY], 0);
    ck_assert_int_eq(h.on[US_VOICE_LEFT], 2);
    nothing_sounds(&h);
    tear_down();
}
END_TEST

START_TEST(controls_from_a_window)
{
    set_up(0);
    struct us_event next = {
        .kind = US_EVENT_CONTROL, .control = US_CONTROL_TEXTURE, .value = US_TEXTURE_DRONE};
    ck_assert(us_live_post(rig.live, &next));
    for (int i = 0; i < 200 && us_snapshot_box_latest(&rig.box, NULL)->texture != US_TEXTURE_DRONE; i++)
        sleep_ms(5);
    ck_assert_int_eq(us_snapshot_box_latest(&rig.box, NULL)->texture, US_TEXTURE_DRONE);
    us_live_stop(rig.live);
    pthread_join(rig.thread, NULL);
    close(rig.to[1]);
    tear_down();
}
END_TEST

static int no_fds(void *self, struct pollfd *out)
{
    (void)self, (void)out;
    return 0;
}

static int read_nothing(void *self, int64_t now_ns, struct us_event *out)
{
    (void)self, (void)now_ns, (void)out;
    return 0;
}

/* A key goes down, then nothing more comes. */
static int read_end(void *self, int64_t now_ns, struct us_event *out)
{
    if (++*(atomic_int *)self > 1) return US_SOURCE_ENDED;
    *out = (struct us_event){.at_ns = now_ns, .kind = US_EVENT_NOTE_ON, .pitch = 60, .velocity = 80};
    return 1;
}

/* How many notes sound. */
static void count_notes(void *self, const struct us_actions *actions)
{
    for (uint32_t i = 0; i < actions->count; i++) {
        *(atomic_int *)self += actions->list[i].kind == US_ACTION_NOTE_ON;
        *(atomic_int *)self -= actions->list[i].kind == US_ACTION_NOTE_OFF;
    }
}

static int64_t due_at_once(void *self, int64_t now_ns)
{
    (void)self;
    return now_ns;
}

/* A source beside the first that has ended, such as standard input beside a window, is not asked again: its
   descriptor would stay ready for ever.  The key that it held is let go. */
START_TEST(a_source_beside_the_first_ends)
{
    atomic_int asked = 0, sounding = 0;
    struct us_companion_settings settings = {.key = {0, US_MODE_MAJOR}, .metre = {4, 4}, .share = 100};
    struct us_live_settings live = {.origin_ns = us_clock_ns(), .source_count = 2, .sink_count = 1};
    struct us_error error;
    pthread_t thread;
    rig.companion = malloc(us_companion_size());
    us_companion_init(rig.companion, &settings);
    live.companion = rig.companion;
    live.sources[0] = (struct us_source){.fds = no_fds, .read = read_nothing};
    live.sources[1] = (struct us_source){.self = &asked, .fds = no_fds, .read = read_end, .due = due_at_once};
    live.sinks[0] = (struct us_sink){.self = &sounding, .send = count_notes};
    ck_assert_int_eq(us_live_create(&rig.live, &live, &error), US_STATUS_OK);
    ck_assert_int_eq(pipe(rig.from), 0);
    ck_assert_int_eq(pthread_create(&thread, NULL, run, rig.live), 0);
    for (int i = 0; i < 1000 && asked < 2; i++)
        sleep_ms(5);
    sleep_ms(50);
    ck_assert_int_eq(sounding, 0);
    us_live_stop(rig.live);
    pthread_join(thread, NULL);
    ck_assert_int_eq(asked, 2);
    tear_down();
}
END_TEST

/* Active sensing that stops: what sounds is released though the line is still open. */
START_TEST(the_cable_is_pulled)
{
    set_up(0);
    uint8_t sensing = 0xFE;
    ck_assert_int_eq(write(rig.to[1], &sensing, 1), 1);
    play(0x90, 60, 90);
    sleep_ms(600);
    const struct us_snapshot *s = us_snapshot_box_latest(&rig.box, NULL);
    for (int i = 0; i < 16; i++)
        ck_assert(!s->melody_down[i] && !s->left_down[i]);
    us_live_stop(rig.live);
    pthread_join(rig.thread, NULL);
    struct heard h = listen_to_end();
    ck_assert_int_eq(h.on[US_VOICE_MELODY], 1);
    nothing_sounds(&h);
    tear_down();
}
END_TEST

int main(void)
{
    const TTest *const TESTS[] = {plays_and_releases_at_the_end,
                                  stops_when_told,
                                  the_reader_goes_away,
                                  a_reader_that_does_not_read,
                                  split,
                                  controls_from_a_window,
                                  a_source_beside_the_first_ends,
                                  the_cable_is_pulled};
    return RUN_TESTS("live", TESTS);
}
