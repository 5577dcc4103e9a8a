/* Runs inside the virtual machine: plays keyboards and instruments of the ALSA sequencer.

   `seqtool port NAME`: a port of that name.  Commands on standard input: on PITCH VELOCITY, off PITCH, sleep
   MS, wait (until somebody has subscribed), number (print the client's number).  Everything that it is sent
   is printed with the time in ms, and `lost` where the sequencer had more for it than it read in time.  Ends
   with the input, or with SIGTERM.

   `seqtool flood C:P NOTES RATE`: sends so many notes, on and off, at so many a second.

   `seqtool latency C:P C:P N CHANNEL`: sends N notes to the first port and prints for each its pitch and, in
   microseconds, when it was sent, counted from the first, and how long after it the first and the third note
   on CHANNEL (from 0) came from the second port; -1 where none came.

   `seqtool echo IN OUT [loop]`: a bare PortMidi echo, three notes for one, read every millisecond on
   PortTime's thread, or with `loop` in a loop of its own: what a program that does nothing else can reach. */
#include <alsa/asoundlib.h>
#include <errno.h>
#include <math.h>
#include <poll.h>
#include <portmidi.h>
#include <porttime.h>
#include <signal.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

static snd_seq_t *seq;
static int port;
static volatile sig_atomic_t stopping;

static void on_signal(int number)
{
    (void)number;
    stopping = 1;
}

static double now_ms(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (double)t.tv_sec * 1e3 + (double)t.tv_nsec * 1e-6;
}

static void sleep_ms(double ms)
{
    struct timespec t = {.tv_sec = (time_t)(ms / 1000), .tv_nsec = (long)(ms * 1e6) % 1000000000};
    nanosleep(&t, NULL);
}

static int open_port(const char *name)
{
    unsigned caps = SND_SEQ_PORT_CAP_READ | SND_SEQ_PORT_CAP_SUBS_READ | SND_SEQ_PORT_CAP_WRITE |
                    SND_SEQ_PORT_CAP_SUBS_WRITE;
    if (snd_seq_open(&seq, "default", SND_SEQ_OPEN_DUPLEX, SND_SEQ_NONBLOCK) < 0) return 1;
    snd_seq_set_client_name(seq, name);
    snd_seq_set_client_pool_input(seq, 2000);
    port = snd_seq_create_simple_port(seq, name, caps, SND_SEQ_PORT_TYPE_APPLICATION);
    return port < 0;
}

static void send_event(snd_seq_event_t *event)
{
    snd_seq_ev_set_source(event, (unsigned char)port);
    snd_seq_ev_set_subs(event);
    snd_seq_ev_set_direct(event);
    while (snd_seq_event_output(seq, event) < 0 || snd_seq_drain_output(seq) < 0)
        sleep_ms(1);
}

static void fill_note(snd_seq_event_t *event, int type, int pitch, int velocity)
{
    event->type = (snd_seq_event_type_t)type;
    event->flags = SND_SEQ_EVENT_LENGTH_FIXED;
    event->data.note.channel = 0;
    event->data.note.note = (unsigned char)pitch;
    event->data.note.velocity = (unsigned char)velocity;
}

static void send_note(bool on, int pitch, int velocity)
{
    snd_seq_event_t event;
    snd_seq_ev_clear(&event);
    if (on)
        fill_note(&event, SND_SEQ_EVENT_NOTEON, pitch, velocity);
    else
        fill_note(&event, SND_SEQ_EVENT_NOTEOFF, pitch, 64);
    send_event(&event);
}

/* False when there is nothing more. */
static bool receive(snd_seq_event_t **e)
{
    int got;
    while ((got = snd_seq_event_input(seq, e)) == -ENOSPC)
        printf("%.1f lost\n", now_ms());
    return got >= 0;
}

static void print_received(void)
{
    snd_seq_event_t *e;
    while (receive(&e)) {
        if (e->type == SND_SEQ_EVENT_NOTEON || e->type == SND_SEQ_EVENT_NOTEOFF)
            printf("%.1f %s %d %d %d\n", now_ms(), e->type == SND_SEQ_EVENT_NOTEON ? "on" : "off",
                   e->data.note.channel, e->data.note.note, e->data.note.velocity);
        if (e->type == SND_SEQ_EVENT_CONTROLLER)
            printf("%.1f cc %d %u %d\n", now_ms(), e->data.control.channel, e->data.control.param,
                   e->data.control.value);
        if (e->type == SND_SEQ_EVENT_CLOCK) printf("%.1f clock\n", now_ms());
        if (e->type == SND_SEQ_EVENT_START) printf("%.1f start\n", now_ms());
        if (e->type == SND_SEQ_EVENT_STOP) printf("%.1f stop\n", now_ms());
    }
}

static void listen_for(double ms)
{
    double until = now_ms() + ms;
    struct pollfd fds[4];
    int count = snd_seq_poll_descriptors(seq, fds, 4, POLLIN);
    for (double left; (left = until - now_ms()) > 0 && !stopping;) {
        poll(fds, (nfds_t)count, left < 20 ? 1 + (int)left : 20);
        print_received();
    }
}

static bool subscribed(void)
{
    snd_seq_query_subscribe_t *query;
    snd_seq_query_subscribe_alloca(&query);
    snd_seq_addr_t address = {(unsigned char)snd_seq_client_id(seq), (unsigned char)port};
    snd_seq_query_subscribe_set_root(query, &address);
    snd_seq_query_subscribe_set_type(query, SND_SEQ_QUERY_SUBS_READ);
    snd_seq_query_subscribe_set_index(query, 0);
    return snd_seq_query_port_subscribers(seq, query) >= 0 &&
           snd_seq_query_subscribe_get_num_subs(query) >= 2;
}

static int run_port(void)
{
    char line[80];
    int a, b;
    signal(SIGTERM, on_signal);
    while (fgets(line, sizeof line, stdin)) {
        if (sscanf(line, "on %d %d", &a, &b) == 2)
            printf("%.1f played %d\n", now_ms(), a), send_note(true, a, b);
        else if (sscanf(line, "off %d", &a) == 1)
            send_note(false, a, 0);
        else if (sscanf(line, "sleep %d", &a) == 1)
            listen_for(a);
        else if (strncmp(line, "wait", 4) == 0) {
            double began = now_ms();
            while (!subscribed() && now_ms() - began < 10000)
                listen_for(5);
            printf("%.1f subscribed after %.0f\n", now_ms(), now_ms() - began);
        } else if (strncmp(line, "number", 6) == 0)
            printf("%.1f client %d\n", now_ms(), snd_seq_client_id(seq));
    }
    return 0;
}

static int run_flood(const char *to, int notes, int rate)
{
    snd_seq_addr_t address;
    if (snd_seq_parse_address(seq, &address, to) < 0 ||
        snd_seq_connect_to(seq, port, address.client, address.port) < 0)
        return 1;
    double start = now_ms();
    for (int i = 0; i < notes; i++) {
        while (now_ms() < start + i * 1000.0 / rate)
            sleep_ms(0.2);
        send_note(true, 60 + i % 24, 90);
        send_note(false, 60 + i % 24, 0);
    }
    printf("flood: %d notes in %.0f ms\n", notes, now_ms() - start);
    return 0;
}

/* Waits for three notes on `channel`; their times after `from`, or -1. */
static void answers(double from, int channel, double times[3])
{
    struct pollfd fds[4];
    int count = snd_seq_poll_descriptors(seq, fds, 4, POLLIN), got = 0;
    times[0] = times[2] = -1;
    while (got < 3 && now_ms() - from < 100) {
        snd_seq_event_t *e;
        poll(fds, (nfds_t)count, 20);
        while (receive(&e))
            if (e->type == SND_SEQ_EVENT_NOTEON && e->data.note.channel == channel && got < 3)
                times[got++] = (now_ms() - from) * 1000;
    }
}

static int run_latency(const char *to, const char *from, int n, int channel)
{
    static const int TUNE[] = {72, 76, 79, 76, 77, 74, 71, 72};
    snd_seq_addr_t a, b;
    if (snd_seq_parse_address(seq, &a, to) < 0 || snd_seq_parse_address(seq, &b, from) < 0 ||
        snd_seq_connect_to(seq, port, a.client, a.port) < 0 ||
        snd_seq_connect_from(seq, port, b.client, b.port) < 0)
        return 1;
    double began = 0;
    for (int i = 0; i < n; i++) {
        /* At every place between two polls of a millisecond alike: the golden section spreads evenly. */
        double times[3], at = now_ms(), until = at + 400 + i * 7 % 13 + fmod(i * 0.618034, 1);
        if (i == 0) began = at;
        send_note(true, TUNE[i % 8], 90);
        answers(at, channel, times);
        printf("%d %.0f %.0f %.0f\n", TUNE[i % 8], (at - began) * 1000, times[0], times[2]);
        sleep_ms(at + 150 - now_ms());
        send_note(false, TUNE[i % 8], 0);
        sleep_ms(until - now_ms());
        snd_seq_drop_input(seq);
    }
    return 0;
}

static int find_device(const char *name, bool input)
{
    for (int i = 0; i < Pm_CountDevices(); i++) {
        const PmDeviceInfo *d = Pm_GetDeviceInfo(i);
        if ((input ? d->input : d->output) && strstr(d->name, name)) return i;
    }
    return pmNoDevice;
}

static PortMidiStream *echo_in, *echo_out;

static void echo_once(PtTimestamp time, void *user)
{
    PmEvent e[32], answer[96];
    int got = Pm_Read(echo_in, e, 32), count = 0;
    for (int i = 0; i < got; i++)
        for (int k = 0; k < 3; k++)
            answer[count++] = (PmEvent){.message = Pm_Message(Pm_MessageStatus(e[i].message),
                                                              (Pm_MessageData1(e[i].message) + 4 * k) & 127,
                                                              Pm_MessageData2(e[i].message))};
    if (count) Pm_Write(echo_out, answer, count);
}

static int run_echo(const char *from, const char *to, bool loop)
{
    signal(SIGTERM, on_signal);
    Pm_Initialize();
    if (Pm_OpenInput(&echo_in, find_device(from, true), NULL, 1024, NULL, NULL) ||
        Pm_OpenOutput(&echo_out, find_device(to, false), NULL, 1024, NULL, NULL, 0) ||
        (!loop && Pt_Start(1, echo_once, NULL)))
        return 1;
    puts("ready");
    while (!stopping) {
        if (loop) echo_once(0, NULL);
        sleep_ms(loop ? 1 : 20);
    }
    if (!loop) Pt_Stop();
    Pm_Close(echo_in);
    Pm_Close(echo_out);
    Pm_Terminate();
    return 0;
}

int main(int argc, char **argv)
{
    setvbuf(stdout, NULL, _IOLBF, 0);
    if (argc >= 4 && strcmp(argv[1], "echo") == 0) return run_echo(argv[2], argv[3], argc > 4);
    if (argc < 3 || open_port(strcmp(argv[1], "port") == 0 ? argv[2] : argv[1])) return 2;
    if (strcmp(argv[1], "port") == 0) return run_port();
    if (argc == 5 && strcmp(argv[1], "flood") == 0) return run_flood(argv[2], atoi(argv[3]), atoi(argv[4]));
    if (argc == 6 && strcmp(argv[1], "latency") == 0)
        return run_latency(argv[2], argv[3], atoi(argv[4]), atoi(argv[5]));
    return 2;
}
