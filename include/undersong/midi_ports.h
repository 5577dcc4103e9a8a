/* MIDI ports through PortMidi, as a source and a sink of the live process.  One thread owns every call: open
   on one thread, then hand over to the live thread. */
#ifndef UNDERSONG_MIDI_PORTS_H
#define UNDERSONG_MIDI_PORTS_H

#include "undersong/input.h"
#include "undersong/live.h"

enum { US_MIDI_OUTPUTS_MAX = 8 };
struct us_midi_ports_settings {
    bool want_input;
    const char *input; /* a part of the name; NULL: the first that is not a software through port */
    const char *outputs[US_MIDI_OUTPUTS_MAX]; /* parts of names */
    int output_count;
    struct us_input *filter;  /* the channel filter and the switches; must live on */
    bool clock;               /* MIDI clock to every output; wants US_ACTION_BEAT */
    const int64_t *origin_ns; /* us_clock_ns() at time 0 of the events; read while playing */
};

struct us_midi_ports;
/* Opens all of them.  US_STATUS_NOT_FOUND where a name fits none, with those there are; US_STATUS_NO_DEVICE
   where there is no keyboard at all. */
enum us_status us_midi_ports_open(struct us_midi_ports **ports, const struct us_midi_ports_settings *settings,
                                  struct us_error *error) US_WARN_UNUSED;
/* Silences and closes; accepts NULL. */
void us_midi_ports_close(struct us_midi_ports *ports);

/* As a source: it also keeps watch over the outputs, so it must be read where there are only outputs, too.  A
   port that goes is released, and taken up again within two seconds of its return; a keyboard that goes is a
   panic event. */
struct us_source us_midi_ports_source(struct us_midi_ports *ports);
/* As a sink, NULL functions where there are no outputs.  To an output of the same name as the input the
   melody is not sent: the keyboard sounds it already. */
struct us_sink us_midi_ports_sink(struct us_midi_ports *ports);

/* What there is to tell the player (lost, found again), one line at a time; false: nothing.  One other
 * thread. */
bool us_midi_ports_message(struct us_midi_ports *ports, char *line, size_t size);

/* Calls `found` for each port there is.  Not beside open ports.  False in a build without MIDI ports. */
bool us_midi_ports_list(void (*found)(void *user, const char *name, bool input), void *user);

#endif
