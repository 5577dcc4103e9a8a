/* A build without PortMidi. */
#include "undersong/midi_ports.h"

enum us_status us_midi_ports_open(struct us_midi_ports **ports, const struct us_midi_ports_settings *settings,
                                  struct us_error *error)
{
    *ports = NULL;
    return us_error_set(error, US_STATUS_BAD_INPUT,
                        "this build has no MIDI ports (made without PortMidi): %s",
                        settings->want_input ? "play with --from keys, --from FILE.mid or --from -"
                                             : "send the music to a FILE.mid, to a FILE.wav or to -");
}

void us_midi_ports_close(struct us_midi_ports *ports)
{
    (void)ports;
}

struct us_source us_midi_ports_source(struct us_midi_ports *ports)
{
    return (struct us_source){.self = ports};
}

struct us_sink us_midi_ports_sink(struct us_midi_ports *ports)
{
    return (struct us_sink){.self = ports};
}

bool us_midi_ports_message(struct us_midi_ports *ports, char *line, size_t size)
{
    (void)ports, (void)line, (void)size;
    return false;
}

bool us_midi_ports_list(void (*found)(void *user, const char *name, bool input), void *user)
{
    (void)found, (void)user;
    return false;
}
