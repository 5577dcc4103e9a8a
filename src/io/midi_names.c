#include "undersong/midi_names.h"

#include "midi_watch.h"

/* A watch by another name: struct us_midi_names is never defined. */
static struct midi_watch *watch_of(struct us_midi_names *names)
{
    return (struct midi_watch *)names;
}

struct us_midi_names *us_midi_names_open(void)
{
    return (struct us_midi_names *)midi_watch_open();
}

void us_midi_names_close(struct us_midi_names *names)
{
    midi_watch_close(watch_of(names));
}

bool us_midi_names_changed(struct us_midi_names *names)
{
    struct midi_watch_news news = {false, false, false};
    midi_watch_drain(watch_of(names), &news);
    return news.changed;
}

void us_midi_names_list(struct us_midi_names *names, void (*found)(void *user, const char *name, bool input),
                        void *user)
{
    midi_watch_list(watch_of(names), found, user);
}
