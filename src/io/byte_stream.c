#include "undersong/byte_stream.h"

#include "undersong/midi_action.h"

#include <errno.h>
#include <string.h>
#include <unistd.h>

/* Kept free for the release of every note and the closing messages. */
enum { RESERVE = 3 * (US_VOICES * US_PITCHES + 8) };

static int source_fds(void *self, struct pollfd *out)
{
    struct us_byte_source *s = self;
    *out = (struct pollfd){.fd = s->fd, .events = POLLIN};
    return s->ended ? 0 : 1;
}

static int source_read(void *self, int64_t now_ns, struct us_event *out)
{
    struct us_byte_source *s = self;
    struct pollfd ready = {.fd = s->fd, .events = POLLIN};
    int count = 0;
    if (us_input_lost(s->input, now_ns))
        out[count++] = (struct us_event){.at_ns = now_ns, .kind = US_EVENT_PANIC};
    if (s->ended) return count ? count : US_SOURCE_ENDED;
    if (poll(&ready, 1, 0) <= 0) return count;
    uint8_t bytes[US_SOURCE_EVENTS_MAX - 1]; /* a byte ends at most one message */
    ssize_t got = read(s->fd, bytes, sizeof bytes);
    if (got == 0 || (got < 0 && errno != EINTR && errno != EAGAIN)) s->ended = true;
    for (ssize_t i = 0; i < got; i++) {
        struct us_midi_message message;
        if (us_midi_parser_byte(&s->parser, bytes[i], &message) &&
            us_input_message(s->input, message, now_ns, &out[count]))
            count++;
    }
    return s->ended && !count ? US_SOURCE_ENDED : count;
}

static int64_t source_due(void *self, int64_t now_ns)
{
    struct us_byte_source *s = self;
    return s->ended ? now_ns : us_input_due(s->input);
}

struct us_source us_byte_source(struct us_byte_source *s, int fd, struct us_input *input)
{
    *s = (struct us_byte_source){.fd = fd, .input = input};
    return (struct us_source){.self = s, .fds = source_fds, .read = source_read, .due = source_due};
}

/* Hands over what the reader takes without waiting: at most PIPE_BUF at a time, which a pipe that is ready
   takes whole (POSIX.1-2017, pipe and write). */
static void flush(struct us_byte_sink *s)
{
    enum { PIECE = 512 }; /* the least that POSIX allows PIPE_BUF to be */
    while (s->waiting && !s->closed) {
        struct pollfd ready = {.fd = s->fd, .events = POLLOUT};
        if (poll(&ready, 1, 0) <= 0) return;
        ssize_t wrote = write(s->fd, s->buffer, s->waiting < PIECE ? s->waiting : PIECE);
        if (wrote < 0 && (errno == EINTR || errno == EAGAIN)) return;
        if (wrote < 0) {
            s->closed = true;
            s->waiting = 0;
            if (s->on_close) s->on_close(s->user);
            return;
        }
        s->waiting -= (uint32_t)wrote;
        memmove(s->buffer, s->buffer + wrote, s->waiting);
    }
}

static void put(struct us_byte_sink *s, struct us_midi_message message)
{
    if (s->waiting + 3 > US_BYTE_SINK_BUFFER) return;
    s->waiting += (uint32_t)us_midi_encode(NULL, message, s->buffer + s->waiting);
}

static void sink_send(void *self, const struct us_actions *actions)
{
    struct us_byte_sink *s = self;
    for (uint32_t i = 0; i < actions->count && !s->closed; i++) {
        const struct us_action *a = &actions->list[i];
        struct us_midi_message message;
        if (!us_midi_from_action(a, &message)) continue;
        uint64_t *word = &s->down[a->voice][a->pitch / 64], bit = UINT64_C(1) << (a->pitch % 64);
        bool full = s->waiting + 3 + RESERVE > US_BYTE_SINK_BUFFER;
        if (a->kind == US_ACTION_NOTE_ON && full) {
            s->dropped++;
            continue;
        }
        if (a->kind == US_ACTION_NOTE_OFF && full && !(*word & bit)) continue;
        if (a->kind == US_ACTION_NOTE_ON) *word |= bit;
        if (a->kind == US_ACTION_NOTE_OFF) *word &= ~bit;
        put(s, message);
    }
    flush(s);
}

/* At the end the reader gets a fifth of a second to take what is left. */
static void sink_silence(void *self)
{
    struct us_byte_sink *s = self;
    for (int voice = 0; voice < US_VOICES; voice++) {
        for (int pitch = 0; pitch < US_PITCHES; pitch++)
            if (s->down[voice][pitch / 64] >> (pitch % 64) & 1)
                put(s, (struct us_midi_message){(uint8_t)(US_MIDI_NOTE_OFF | voice), (uint8_t)pitch,
                                                US_MIDI_RELEASE});
        put(s, (struct us_midi_message){(uint8_t)(US_MIDI_CONTROL | voice), 64, 0});
        put(s, (struct us_midi_message){(uint8_t)(US_MIDI_CONTROL | voice), 123, 0});
    }
    memset(s->down, 0, sizeof s->down);
    for (int i = 0; i < 40 && s->waiting && !s->closed; i++) {
        flush(s);
        struct pollfd ready = {.fd = s->fd, .events = POLLOUT};
        if (s->waiting && !s->closed) poll(&ready, 1, 5);
    }
}

struct us_sink us_byte_sink(struct us_byte_sink *s, int fd)
{
    memset(s, 0, sizeof *s);
    s->fd = fd;
    return (struct us_sink){.self = s, .send = sink_send, .silence = sink_silence};
}
