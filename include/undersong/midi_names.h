/* The names of the MIDI ports there are, kept up to date beside open ports: for a list to choose from.  Where
   the system has no MIDI the list is empty.  One thread, any one. */
#ifndef UNDERSONG_MIDI_NAMES_H
#define UNDERSONG_MIDI_NAMES_H

#include <stdbool.h>
#include <string.h>

/* Whether a port of this name is the system's own that only passes on what is written to it; nobody's
   keyboard. */
static inline bool us_midi_is_through(const char *name)
{
    return strstr(name, "Through") != NULL;
}

struct us_midi_names;
struct us_midi_names *us_midi_names_open(void); /* NULL where there is no MIDI; every call accepts that */
void us_midi_names_close(struct us_midi_names *names);
/* Whether ports have come or gone since the last call.  Does not wait. */
bool us_midi_names_changed(struct us_midi_names *names);
/* Calls `found` for each port, once as an input and once as an output where it is both. */
void us_midi_names_list(struct us_midi_names *names, void (*found)(void *user, const char *name, bool input),
                        void *user);

#endif
