/* Opening ports, losing them and taking them up again.  PortMidi knows no hot-plug: its list changes only
   after everything was closed, Pm_Terminate and Pm_Initialize. */
#include "midi_ports_parts.h"

#include "undersong/clock.h"
#include "undersong/midi_names.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { BUFFER_EVENTS = 2048 };
#define LOOK_NS INT64_C(200000000)
#define PATIENCE_NS INT64_C(1200000000) /* how long a returned port waits for a rest in the music */
#define NEVER INT64_MAX

static PmTimestamp time_ms(void *user)
{
    return (PmTimestamp)(us_clock_ns() / 1000000 & 0x7FFFFFFF);
}

/* The first port that fits: by its whole name if `whole`, else by a part of it (any real port where NULL).
   Also tells how many before it bear the same name. */
static int find_device(const char *wanted, bool whole, bool input, int *nth)
{
    for (int i = 0; i < Pm_CountDevices(); i++) {
        const PmDeviceInfo *d = Pm_GetDeviceInfo(i);
        if (!d || !(input ? d->input : d->output) || d->opened) continue;
        bool fits = !wanted ? !us_midi_is_through(d->name)
                    : whole ? strncmp(d->name, wanted, MIDI_NAME_SIZE - 1) == 0
                            : strstr(d->name, wanted) != NULL;
        if (!fits) continue;
        *nth = 0;
        for (int k = 0; k < i; k++) {
            const PmDeviceInfo *before = Pm_GetDeviceInfo(k);
            *nth += (input ? before->input : before->output) && strcmp(before->name, d->name) == 0;
        }
        return i;
    }
    return pmNoDevice;
}

static bool open_stream(struct midi_port *port, int device, bool input)
{
    PmError error = input ? Pm_OpenInput(&port->stream, device, NULL, BUFFER_EVENTS, time_ms, NULL)
                          : Pm_OpenOutput(&port->stream, device, NULL, BUFFER_EVENTS, time_ms, NULL, 0);
    if (error != pmNoError) port->stream = NULL;
    if (port->stream && input) /* active sensing is wanted, the rest of the system messages is not */
        Pm_SetFilter(port->stream, PM_FILT_SYSEX | PM_FILT_CLOCK | PM_FILT_PLAY | PM_FILT_TICK | PM_FILT_FD |
                                       PM_FILT_RESET);
    memset(port->down, 0, sizeof port->down);
    return port->stream != NULL;
}

static bool open_port(struct us_midi_ports *p, struct midi_port *port, const char *wanted, bool whole,
                      bool input)
{
    int nth, device = find_device(wanted, whole, input, &nth);
    if (device == pmNoDevice) return false;
    snprintf(port->name, sizeof port->name, "%s", Pm_GetDeviceInfo(device)->name);
    if (!open_stream(port, device, input)) return false;
    if (!midi_watch_find(p->watch, port->name, input, nth, &port->address)) port->address.client = -1;
    if (input) midi_watch_follow(p->watch, &port->address);
    return true;
}

static void list_names(bool input, char *out, size_t size)
{
    size_t used = 0;
    *out = 0;
    for (int i = 0; i < Pm_CountDevices() && used < size; i++) {
        const PmDeviceInfo *d = Pm_GetDeviceInfo(i);
        if (input ? d->input : d->output)
            used += (size_t)snprintf(out + used, size - used, "%s%s", used ? ", " : "", d->name);
    }
}

static enum us_status missing(const char *wanted, bool input, struct us_error *error)
{
    char names[200];
    list_names(input, names, sizeof names);
    if (!wanted)
        return us_error_set(error, US_STATUS_NO_DEVICE,
                            "no MIDI keyboard is connected; plug one in, or play on the computer's keys with "
                            "--from keys");
    return us_error_set(error, US_STATUS_NOT_FOUND,
                        "no MIDI %s is called %.60s; there %s%s; `undersong ports` "
                        "lists them",
                        input ? "input" : "output", wanted, *names ? "is " : "is none", names);
}

static enum us_status open_all(struct us_midi_ports *p, struct us_error *error)
{
    const struct us_midi_ports_settings *s = &p->settings;
    if (s->want_input && !open_port(p, &p->in, s->input, false, true)) return missing(s->input, true, error);
    for (int i = 0; i < s->output_count; i++, p->out_count++) {
        if (!open_port(p, &p->out[i], s->outputs[i], false, false))
            return missing(s->outputs[i], false, error);
        p->out[i].skip_melody = s->want_input && strcmp(p->out[i].name, p->in.name) == 0;
        if (p->out[i].skip_melody)
            midi_ports_say(p, "%s sounds your notes itself, so only the left hand is sent to it",
                           p->out[i].name);
    }
    return US_STATUS_OK;
}

enum us_status us_midi_ports_open(struct us_midi_ports **out, const struct us_midi_ports_settings *settings,
                                  struct us_error *error)
{
    *out = NULL;
    struct us_midi_ports *p = calloc(1, sizeof *p);
    if (!p) return us_error_no_memory(error);
    p->settings = *settings;
    p->look_ns = p->again_ns = NEVER;
    p->told_late_ns = p->told_flood_ns = INT64_MIN / 2;
    us_beat_clock_init(&p->clock);
    p->watch = midi_watch_open(); /* first: it also keeps the ALSA library from printing */
    Pm_Initialize();
    enum us_status status = open_all(p, error);
    if (status) {
        us_midi_ports_close(p);
        return status;
    }
    *out = p;
    return US_STATUS_OK;
}

static void close_port(struct midi_port *port)
{
    if (port->stream) Pm_Close(port->stream);
    port->stream = NULL;
}

void us_midi_ports_close(struct us_midi_ports *p)
{
    if (!p) return;
    for (int i = 0; i < p->out_count; i++) {
        midi_port_silence(&p->out[i]);
        close_port(&p->out[i]);
    }
    close_port(&p->in);
    Pm_Terminate();
    midi_watch_close(p->watch);
    free(p);
}

void midi_port_lost(struct us_midi_ports *p, struct midi_port *port, bool input)
{
    close_port(port);
    memset(port->down, 0, sizeof port->down);
    memset(port->doubt, 0, sizeof port->doubt);
    port->late = false;
    p->release = p->release || input;
    if (input) us_input_gone(p->settings.filter);
    p->look_ns = 0;
    midi_ports_say(p, "%s is gone; it is taken up again when it is back", port->name);
}

/* Whether a lost port could be had again.  Without a watch one has to try. */
static bool is_back(struct us_midi_ports *p, const struct midi_port *port, bool input)
{
    struct midi_address there;
    return !port->stream && (!p->watch || midi_watch_find(p->watch, port->name, input, 0, &there));
}

bool midi_ports_take(struct us_midi_ports *p)
{
    bool all = true;
    Pm_Initialize();
    struct midi_port *ports[1 + US_MIDI_OUTPUTS_MAX] = {&p->in};
    for (int i = 0; i < p->out_count; i++)
        ports[1 + i] = &p->out[i];
    for (int i = p->settings.want_input ? 0 : 1; i <= p->out_count; i++)
        all = open_port(p, ports[i], ports[i]->name, true, i == 0) && all;
    return all;
}

static void retake(struct us_midi_ports *p)
{
    bool lost[1 + US_MIDI_OUTPUTS_MAX] = {p->settings.want_input && !p->in.stream};
    for (int i = 0; i < p->out_count; i++) {
        lost[1 + i] = !p->out[i].stream;
        midi_port_silence(&p->out[i]);
        close_port(&p->out[i]);
    }
    p->release = true; /* what was held while the ports were closed may have been released meanwhile */
    close_port(&p->in);
    Pm_Terminate();
    midi_ports_take(p);
    if (lost[0] && p->in.stream) midi_ports_say(p, "%s is back", p->in.name);
    for (int i = 0; i < p->out_count; i++)
        if (lost[1 + i] && p->out[i].stream) midi_ports_say(p, "%s is back", p->out[i].name);
}

void midi_ports_look(struct us_midi_ports *p, int64_t now_ns)
{
    bool any_lost = p->settings.want_input && !p->in.stream, back = any_lost && is_back(p, &p->in, true);
    for (int i = 0; i < p->out_count; i++) {
        any_lost = any_lost || !p->out[i].stream;
        back = back || is_back(p, &p->out[i], false);
    }
    p->look_ns = any_lost ? now_ns + LOOK_NS : NEVER;
    if (!back) {
        p->force_ns = 0;
        return;
    }
    if (!p->force_ns) p->force_ns = now_ns + PATIENCE_NS;
    if (midi_ports_sounding(p) && now_ns < p->force_ns) return;
    p->force_ns = 0;
    retake(p);
}

bool us_midi_ports_list(void (*found)(void *user, const char *name, bool input), void *user)
{
    struct midi_watch *quiet = midi_watch_open();
    Pm_Initialize();
    for (int i = 0; i < Pm_CountDevices(); i++) {
        const PmDeviceInfo *d = Pm_GetDeviceInfo(i);
        found(user, d->name, d->input);
    }
    Pm_Terminate();
    midi_watch_close(quiet);
    return true;
}
