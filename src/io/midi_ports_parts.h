/* Shared by the parts of the MIDI ports: opening and retaking, reading and writing. */
#ifndef MIDI_PORTS_PARTS_H
#define MIDI_PORTS_PARTS_H

#include "midi_watch.h"
#include "undersong/beat_clock.h"
#include "undersong/midi_ports.h"

#include <portmidi.h>
#include <stdatomic.h>

enum { MIDI_MESSAGES = 8, MIDI_MESSAGE_SIZE = 200, MIDI_BATCH = 256 };

struct midi_port {
    PortMidiStream *stream; /* NULL: lost */
    struct midi_address address;
    char name[MIDI_NAME_SIZE];
    bool skip_melody;
    uint64_t down[US_VOICES][2];
    uint64_t doubt[US_VOICES][2]; /* notes whose release may not have gone through */
    bool late;                    /* the port could not take something */
};

struct us_midi_ports {
    struct us_midi_ports_settings settings;
    struct midi_watch *watch;
    struct midi_port in, out[US_MIDI_OUTPUTS_MAX];
    int out_count;
    bool changed;      /* the list of ports has changed since it was looked at */
    bool release;      /* the player's keys must be released */
    int64_t look_ns;   /* when to look for lost ports again */
    int64_t looked_ns; /* when the watch was last asked who came and went */
    int64_t force_ns;  /* retake them by then even while something sounds; 0: nothing to retake */
    int64_t hot_ns;    /* read often until then: the watch saw the keyboard, PortMidi has not yet */
    int64_t again_ns;  /* read then once more */
    int64_t told_late_ns, told_flood_ns; /* when the player was last told that too much comes */
    bool flooded;                        /* events of the input were lost */
    struct us_beat_clock clock;
    struct us_metre metre;
    char messages[MIDI_MESSAGES][MIDI_MESSAGE_SIZE];
    atomic_uint message_head, message_tail;
};

/* Opens what is wanted and closed; false where something is still missing. */
bool midi_ports_take(struct us_midi_ports *p);
/* Looks after lost ports; `now_ns` is the time of the events. */
void midi_ports_look(struct us_midi_ports *p, int64_t now_ns);
/* Marks the port as lost and says so. */
void midi_port_lost(struct us_midi_ports *p, struct midi_port *port, bool input);
void midi_ports_say(struct us_midi_ports *p, const char *format, ...) __attribute__((format(printf, 2, 3)));
bool midi_ports_sounding(const struct us_midi_ports *p);
/* Releases what sounds on one output, in the same call. */
void midi_port_silence(struct midi_port *port);

#endif
