/* Reading and writing: what happens at every wake-up. */
#include "midi_ports_parts.h"

#include "undersong/clock.h"
#include "undersong/midi_action.h"
#include "undersong/plain_line.h"

#include <stdarg.h>
#include <stdio.h>
#include <string.h>

/* Between two reads where nothing tells that the keyboard has sent something. */
#define POLL_NS INT64_C(1000000)
#define HOT_POLL_NS INT64_C(100000)
#define HOT_NS INT64_C(2000000)
#define TOLD_NS INT64_C(5000000000)
/* Whoever was looked for so lately has not gone and been replaced. */
#define LOOKED_NS INT64_C(2000000)

void midi_ports_say(struct us_midi_ports *p, const char *format, ...)
{
    unsigned head = atomic_load_explicit(&p->message_head, memory_order_relaxed);
    if (head - atomic_load_explicit(&p->message_tail, memory_order_acquire) == MIDI_MESSAGES) return;
    va_list args;
    va_start(args, format);
    char *message = p->messages[head % MIDI_MESSAGES];
    vsnprintf(message, MIDI_MESSAGE_SIZE, format, args);
    va_end(args);
    us_plain_line(message, message, MIDI_MESSAGE_SIZE);
    atomic_store_explicit(&p->message_head, head + 1, memory_order_release);
}

bool us_midi_ports_message(struct us_midi_ports *p, char *line, size_t size)
{
    unsigned tail = atomic_load_explicit(&p->message_tail, memory_order_relaxed);
    if (tail == atomic_load_explicit(&p->message_head, memory_order_acquire)) return false;
    snprintf(line, size, "%s", p->messages[tail % MIDI_MESSAGES]);
    atomic_store_explicit(&p->message_tail, tail + 1, memory_order_release);
    return true;
}

static PmMessage pack(struct us_midi_message m)
{
    return (PmMessage)((uint32_t)m.status | (uint32_t)m.data1 << 8 | (uint32_t)m.data2 << 16);
}

static struct us_midi_message unpack(PmMessage message)
{
    uint32_t bits = (uint32_t)message; /* PmMessage is signed */
    return (struct us_midi_message){(uint8_t)bits, (uint8_t)(bits >> 8) & 127, (uint8_t)(bits >> 16) & 127};
}

bool midi_ports_sounding(const struct us_midi_ports *p)
{
    uint64_t any = 0;
    for (int i = 0; i < p->out_count; i++)
        for (int v = 0; v < US_VOICES; v++)
            any |= p->out[i].stream ? p->out[i].down[v][0] | p->out[i].down[v][1] : 0;
    return any != 0;
}

void midi_port_silence(struct midi_port *port)
{
    if (!port->stream) return;
    for (int v = 0; v < US_VOICES; v++) {
        for (int pitch = 0; pitch < US_PITCHES; pitch++)
            if (port->down[v][pitch / 64] >> (pitch % 64) & 1)
                Pm_WriteShort(port->stream, 0,
                              pack((struct us_midi_message){(uint8_t)(US_MIDI_NOTE_OFF | v), (uint8_t)pitch,
                                                            US_MIDI_RELEASE}));
        Pm_WriteShort(port->stream, 0, pack((struct us_midi_message){(uint8_t)(US_MIDI_CONTROL | v), 64, 0}));
        Pm_WriteShort(port->stream, 0,
                      pack((struct us_midi_message){(uint8_t)(US_MIDI_CONTROL | v), 123, 0}));
    }
    memset(port->down, 0, sizeof port->down);
}

static void drain_watch(struct us_midi_ports *p, int64_t now_ns)
{
    struct midi_watch_news news = {false, false, false};
    p->looked_ns = now_ns;
    midi_watch_drain(p->watch, &news);
    p->changed = p->changed || news.changed;
    p->flooded = p->flooded || news.flooded;
    if (news.played) p->hot_ns = now_ns + HOT_NS;
}

static int64_t now_of(const struct us_midi_ports *p)
{
    return us_clock_ns() - *p->settings.origin_ns;
}

/* Before writing: whoever came or went since the last look may be behind our number now. */
static void check_list(struct us_midi_ports *p, int64_t now_ns)
{
    drain_watch(p, now_ns);
    if (!p->changed) return;
    p->changed = false;
    p->look_ns = now_ns;
    if (p->in.stream && !midi_watch_alive(p->watch, &p->in.address)) midi_port_lost(p, &p->in, true);
    for (int i = 0; i < p->out_count; i++)
        if (p->out[i].stream && !midi_watch_alive(p->watch, &p->out[i].address))
            midi_port_lost(p, &p->out[i], false);
}

static void catch_up(struct us_midi_ports *p, struct midi_port *port, int64_t now_ns);

static int source_fds(void *self, struct pollfd *out)
{
    struct us_midi_ports *p = self;
    return midi_watch_fds(p->watch, out);
}

static int64_t source_due(void *self, int64_t now_ns)
{
    struct us_midi_ports *p = self;
    int64_t due = us_input_due(p->settings.filter), clock = us_beat_clock_due(&p->clock);
    if (clock < due) due = clock;
    if (p->look_ns < due) due = p->look_ns;
    for (int i = 0; i < p->out_count; i++)
        if (p->out[i].late && now_ns + POLL_NS < due) due = now_ns + POLL_NS;
    int64_t poll_ns = now_ns < p->hot_ns ? HOT_POLL_NS : p->watch ? INT64_MAX - now_ns : POLL_NS;
    if (p->in.stream && now_ns + poll_ns < due) due = now_ns + poll_ns;
    if (p->in.stream && p->again_ns < due) due = p->again_ns;
    return due;
}

static void send_clock(struct us_midi_ports *p, int64_t now_ns)
{
    uint8_t byte;
    while (p->settings.clock && (byte = us_beat_clock_next(&p->clock, now_ns)))
        for (int i = 0; i < p->out_count; i++)
            if (p->out[i].stream) Pm_WriteShort(p->out[i].stream, 0, byte);
}

/* One slot of `out` is kept for a release of everything. */
static int read_input(struct us_midi_ports *p, int64_t now_ns, struct us_event *out)
{
    PmEvent events[US_SOURCE_EVENTS_MAX - 1];
    int count = 0;
    int got = Pm_Read(p->in.stream, events, US_SOURCE_EVENTS_MAX - 1);
    if (got > 0) p->hot_ns = 0, p->again_ns = now_ns + POLL_NS; /* once more, for what was still on its way */
    if (got == US_SOURCE_EVENTS_MAX - 1) p->again_ns = now_ns;
    if (got == 0 && p->again_ns <= now_ns) p->again_ns = INT64_MAX;
    for (int i = 0; i < got; i++)
        if (us_input_message(p->settings.filter, unpack(events[i].message), now_ns, &out[count])) count++;
    if (got < 0 && got != pmBufferOverflow) midi_port_lost(p, &p->in, true);
    if (got != pmBufferOverflow && !p->flooded) return count;
    p->release = true;
    p->flooded = false;
    if (now_ns - p->told_flood_ns > TOLD_NS)
        midi_ports_say(p, "%s sends faster than can be read; everything is released", p->in.name);
    p->told_flood_ns = now_ns;
    return count;
}

static int source_read(void *self, int64_t now_ns, struct us_event *out)
{
    struct us_midi_ports *p = self;
    check_list(p, now_ns);
    if (now_ns >= p->look_ns) midi_ports_look(p, now_ns);
    send_clock(p, now_ns);
    for (int i = 0; i < p->out_count; i++)
        if (p->out[i].stream && p->out[i].late) catch_up(p, &p->out[i], now_ns);
    int count = p->in.stream ? read_input(p, now_ns, out) : 0;
    if (p->in.stream && us_input_lost(p->settings.filter, now_ns)) {
        midi_ports_say(p, "%s has fallen silent; everything is released", p->in.name);
        p->release = true;
    }
    if (p->release) out[count++] = (struct us_event){.at_ns = now_ns, .kind = US_EVENT_PANIC};
    p->release = false;
    return count;
}

static void note_down(struct midi_port *port, const struct us_action *a)
{
    uint64_t *word = &port->down[a->voice][a->pitch / 64], bit = UINT64_C(1) << (a->pitch % 64);
    if (a->kind == US_ACTION_NOTE_ON) *word |= bit;
    if (a->kind == US_ACTION_NOTE_OFF) *word &= ~bit;
    if (a->kind == US_ACTION_ALL_OFF) port->down[a->voice][0] = port->down[a->voice][1] = 0;
}

/* The port has gone, or it is there and cannot take more now: then what was to be released is released later.
 */
static void write_failed(struct us_midi_ports *p, struct midi_port *port, const struct us_actions *actions)
{
    if (!midi_watch_alive(p->watch, &port->address) || !p->watch) {
        midi_port_lost(p, port, false);
        return;
    }
    for (uint32_t i = 0; i < actions->count; i++) {
        const struct us_action *a = &actions->list[i];
        if (a->kind == US_ACTION_NOTE_OFF)
            port->doubt[a->voice][a->pitch / 64] |= UINT64_C(1) << (a->pitch % 64);
        if (a->kind == US_ACTION_ALL_OFF) port->doubt[a->voice][0] = port->doubt[a->voice][1] = UINT64_MAX;
    }
    port->late = true;
}

/* Sends the releases that are in doubt again; stops where the port still takes nothing. */
static void catch_up(struct us_midi_ports *p, struct midi_port *port, int64_t now_ns)
{
    for (int v = 0; v < US_VOICES; v++)
        for (int pitch = 0; pitch < US_PITCHES; pitch++) {
            uint64_t bit = UINT64_C(1) << (pitch % 64), *doubt = &port->doubt[v][pitch / 64];
            if (!(*doubt & bit)) continue;
            struct us_midi_message off = {(uint8_t)(US_MIDI_NOTE_OFF | v), (uint8_t)pitch, US_MIDI_RELEASE};
            bool sounds = port->down[v][pitch / 64] & bit;
            if (!sounds && Pm_WriteShort(port->stream, 0, pack(off)) < 0) return;
            *doubt &= ~bit;
        }
    port->late = false;
    if (now_ns - p->told_late_ns > TOLD_NS)
        midi_ports_say(p, "%s cannot take so many notes; some were left out", port->name);
    p->told_late_ns = now_ns;
}

static void write_actions(struct us_midi_ports *p, struct midi_port *port, const struct us_actions *actions)
{
    PmEvent events[US_ACTIONS_MAX];
    int count = 0;
    for (uint32_t i = 0; i < actions->count; i++) {
        const struct us_action *a = &actions->list[i];
        struct us_midi_message message;
        if ((port->skip_melody && a->voice == US_VOICE_MELODY) || !us_midi_from_action(a, &message)) continue;
        note_down(port, a);
        events[count++] = (PmEvent){.message = pack(message)};
    }
    if (count && Pm_Write(port->stream, events, count) < 0) write_failed(p, port, actions);
}

static void sink_send(void *self, const struct us_actions *actions)
{
    struct us_midi_ports *p = self;
    int64_t now_ns = now_of(p);
    if (now_ns - p->looked_ns > LOOKED_NS) check_list(p, now_ns);
    for (int i = 0; i < p->out_count; i++)
        if (p->out[i].stream) write_actions(p, &p->out[i], actions);
    for (uint32_t i = 0; i < actions->count && p->settings.clock; i++) {
        const struct us_action *a = &actions->list[i];
        if (a->kind == US_ACTION_METRE) p->metre = a->metre;
        if (a->kind == US_ACTION_BEAT) us_beat_clock_beat(&p->clock, a->at_ns, p->metre);
    }
    send_clock(p, now_of(p));
}

static void sink_silence(void *self)
{
    struct us_midi_ports *p = self;
    check_list(p, now_of(p));
    for (int i = 0; i < p->out_count; i++) {
        if (p->out[i].stream && p->clock.running) Pm_WriteShort(p->out[i].stream, 0, 0xFC);
        midi_port_silence(&p->out[i]);
    }
    p->clock.running = false;
}

struct us_source us_midi_ports_source(struct us_midi_ports *p)
{
    return (struct us_source){.self = p, .fds = source_fds, .read = source_read, .due = source_due};
}

struct us_sink us_midi_ports_sink(struct us_midi_ports *p)
{
    return (struct us_sink){.self = p, .send = sink_send, .silence = sink_silence};
}
