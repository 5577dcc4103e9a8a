#include "midi_watch.h"

#include <alsa/asoundlib.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* Fewer than the 200 that a client such as PortMidi's keeps by default: this queue runs over first. */
enum { WATCH_EVENTS = 150 };

struct midi_watch {
    snd_seq_t *seq;
    int port;
};

static void on_alsa_message(const char *file, int line, const char *function, int error, const char *format,
                            ...)
{
}

struct midi_watch *midi_watch_open(void)
{
    struct midi_watch *w = calloc(1, sizeof *w);
    if (!w) return NULL;
    snd_lib_error_set_handler(on_alsa_message);
    if (snd_seq_open(&w->seq, "default", SND_SEQ_OPEN_DUPLEX, SND_SEQ_NONBLOCK) < 0) {
        free(w);
        return NULL;
    }
    snd_seq_set_client_name(w->seq, "undersong watch");
    snd_seq_set_client_pool_input(w->seq, WATCH_EVENTS);
    /* Without the right for others to subscribe, no program lists this port. */
    w->port = snd_seq_create_simple_port(w->seq, "watch", SND_SEQ_PORT_CAP_WRITE | SND_SEQ_PORT_CAP_NO_EXPORT,
                                         SND_SEQ_PORT_TYPE_APPLICATION);
    if (w->port < 0 ||
        snd_seq_connect_from(w->seq, w->port, SND_SEQ_CLIENT_SYSTEM, SND_SEQ_PORT_SYSTEM_ANNOUNCE) < 0) {
        midi_watch_close(w);
        return NULL;
    }
    return w;
}

void midi_watch_close(struct midi_watch *w)
{
    if (!w) return;
    snd_seq_close(w->seq);
    free(w);
}

int midi_watch_fds(struct midi_watch *w, struct pollfd *out)
{
    return w ? snd_seq_poll_descriptors(w->seq, out, MIDI_WATCH_FDS, POLLIN) : 0;
}

static void take_news(int got, const snd_seq_event_t *event, struct midi_watch_news *news)
{
    if (got == -ENOSPC)
        news->changed = news->played = news->flooded = true;
    else if (event->source.client != SND_SEQ_CLIENT_SYSTEM)
        news->played = true;
    else if (event->type == SND_SEQ_EVENT_PORT_START || event->type == SND_SEQ_EVENT_PORT_EXIT ||
             event->type == SND_SEQ_EVENT_CLIENT_EXIT || event->type == SND_SEQ_EVENT_PORT_CHANGE)
        news->changed = true;
}

/* One look at the kernel fetches all there is, for the library's buffer holds more than the queue: what is
   pending then is in the buffer.  A queue that ran over tells so first. */
void midi_watch_drain(struct midi_watch *w, struct midi_watch_news *news)
{
    snd_seq_event_t *event = NULL;
    int got = 0;
    while (w && ((got = snd_seq_event_input(w->seq, &event)) >= 0 || got == -ENOSPC)) {
        take_news(got, event, news);
        if (got >= 0 && snd_seq_event_input_pending(w->seq, 0) <= 0) return;
    }
}

static bool fits(const snd_seq_port_info_t *port, const char *name, bool input)
{
    unsigned caps = snd_seq_port_info_get_capability(port);
    return caps & (input ? SND_SEQ_PORT_CAP_SUBS_READ : SND_SEQ_PORT_CAP_SUBS_WRITE) &&
           !(caps & SND_SEQ_PORT_CAP_NO_EXPORT) && strcmp(snd_seq_port_info_get_name(port), name) == 0;
}

/* The port after the one that both are at, leaving out the system's own client; at first client -1. */
static bool next_port(struct midi_watch *w, snd_seq_client_info_t *client, snd_seq_port_info_t *port)
{
    if (!w) return false;
    int at = snd_seq_client_info_get_client(client);
    if (at >= 0 && at != SND_SEQ_CLIENT_SYSTEM && snd_seq_query_next_port(w->seq, port) == 0) return true;
    while (snd_seq_query_next_client(w->seq, client) == 0) {
        at = snd_seq_client_info_get_client(client);
        snd_seq_port_info_set_client(port, at);
        snd_seq_port_info_set_port(port, -1);
        if (at != SND_SEQ_CLIENT_SYSTEM && snd_seq_query_next_port(w->seq, port) == 0) return true;
    }
    return false;
}

bool midi_watch_find(struct midi_watch *w, const char *name, bool input, int nth, struct midi_address *out)
{
    snd_seq_client_info_t *client;
    snd_seq_port_info_t *port;
    snd_seq_client_info_alloca(&client);
    snd_seq_port_info_alloca(&port);
    snd_seq_client_info_set_client(client, -1);
    while (next_port(w, client, port)) {
        if (!fits(port, name, input) || nth-- > 0) continue;
        out->client = snd_seq_port_info_get_client(port);
        out->port = snd_seq_port_info_get_port(port);
        snprintf(out->client_name, sizeof out->client_name, "%s", snd_seq_client_info_get_name(client));
        snprintf(out->port_name, sizeof out->port_name, "%s", name);
        return true;
    }
    return false;
}

static void tell(const snd_seq_port_info_t *port, void (*found)(void *user, const char *name, bool input),
                 void *user)
{
    unsigned caps = snd_seq_port_info_get_capability(port);
    const char *name = snd_seq_port_info_get_name(port);
    if (caps & SND_SEQ_PORT_CAP_NO_EXPORT) return;
    if (caps & SND_SEQ_PORT_CAP_SUBS_READ) found(user, name, true);
    if (caps & SND_SEQ_PORT_CAP_SUBS_WRITE) found(user, name, false);
}

void midi_watch_list(struct midi_watch *w, void (*found)(void *user, const char *name, bool input),
                     void *user)
{
    snd_seq_client_info_t *client;
    snd_seq_port_info_t *port;
    snd_seq_client_info_alloca(&client);
    snd_seq_port_info_alloca(&port);
    snd_seq_client_info_set_client(client, -1);
    while (next_port(w, client, port))
        tell(port, found, user);
}

bool midi_watch_alive(struct midi_watch *w, const struct midi_address *address)
{
    snd_seq_client_info_t *client;
    snd_seq_port_info_t *port;
    snd_seq_client_info_alloca(&client);
    snd_seq_port_info_alloca(&port);
    if (!w || address->client < 0) return true; /* nothing is known against it */
    return snd_seq_get_any_port_info(w->seq, address->client, address->port, port) == 0 &&
           snd_seq_get_any_client_info(w->seq, address->client, client) == 0 &&
           strncmp(snd_seq_port_info_get_name(port), address->port_name, MIDI_NAME_SIZE - 1) == 0 &&
           strncmp(snd_seq_client_info_get_name(client), address->client_name, MIDI_NAME_SIZE - 1) == 0;
}

void midi_watch_follow(struct midi_watch *w, const struct midi_address *address)
{
    if (w && address->client >= 0) snd_seq_connect_from(w->seq, w->port, address->client, address->port);
}
