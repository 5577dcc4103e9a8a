/* Watching the ALSA sequencer beside PortMidi: which ports exist, which come and go, and a descriptor that
   wakes when the keyboard sends.  PortMidi has neither.  Where there is no sequencer every call does nothing.
 */
#ifndef MIDI_WATCH_H
#define MIDI_WATCH_H

#include <poll.h>
#include <stdbool.h>

enum { MIDI_NAME_SIZE = 80, MIDI_WATCH_FDS = 4 };

/* Who is behind a port: the numbers may go to another program later, the names tell. */
struct midi_address {
    int client, port; /* client -1: nobody */
    char client_name[MIDI_NAME_SIZE], port_name[MIDI_NAME_SIZE];
};

struct midi_watch;
struct midi_watch *midi_watch_open(void); /* NULL where there is no sequencer */
void midi_watch_close(struct midi_watch *w);

/* Descriptors to sleep on; at most MIDI_WATCH_FDS. */
int midi_watch_fds(struct midi_watch *w, struct pollfd *out);
/* Takes what has come.  `changed`: ports came or went; `played`: the followed port sent something; `flooded`:
   it sent more than the sequencer keeps for a reader, so PortMidi has lost something too.  Only ever set to
   true here. */
struct midi_watch_news {
    bool changed, played, flooded;
};
void midi_watch_drain(struct midi_watch *w, struct midi_watch_news *news);
/* The `nth` port of this name that can be read from (`input`) or written to, in the sequencer's order. */
bool midi_watch_find(struct midi_watch *w, const char *name, bool input, int nth, struct midi_address *out);
/* Calls `found` for each port that can be read from (`input`) or written to. */
void midi_watch_list(struct midi_watch *w, void (*found)(void *user, const char *name, bool input),
                     void *user);
/* Whether the same port is still there. */
bool midi_watch_alive(struct midi_watch *w, const struct midi_address *address);
/* From now on whatever that port sends wakes the descriptors. */
void midi_watch_follow(struct midi_watch *w, const struct midi_address *address);

#endif
