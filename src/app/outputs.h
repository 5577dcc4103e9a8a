/* The files that `play` writes: MIDI and sound. */
#ifndef APP_OUTPUTS_H
#define APP_OUTPUTS_H

#include "options.h"
#include "sink_file.h"
#include "undersong/patch.h"

/* Actions kept for a sound file, which is rendered at the end. */
struct action_list {
    struct us_action *items;
    size_t count, room;
    bool out_of_memory;
};

enum { OUTPUTS_MAX = 16 };
struct outputs {
    struct sink_file *midi[OUTPUTS_MAX];
    const char *wav[OUTPUTS_MAX];
    int midi_count, wav_count;
    struct action_list actions; /* where there is a sound file */
};

/* Capital letters or not. */
bool ends_with(const char *text, const char *end);
/* Whether the name is a file that can be written here: .mid, .midi or .wav. */
bool outputs_is_file(const char *to);
/* Whether the name is one of a file at all, such as x.ogg or song.txt. */
bool outputs_looks_like_file(const char *name);
/* US_STATUS_BAD_INPUT where `path` is a file that is read here: the performance or the tune; both may be
 * NULL. */
enum us_status outputs_spare(const char *path, const char *from, const char *tune,
                             struct us_error *error) US_WARN_UNUSED;
/* The same for each file of `to`. */
enum us_status outputs_spare_all(const struct text_list *to, const char *from, const char *tune,
                                 struct us_error *error) US_WARN_UNUSED;
enum us_status outputs_add(struct outputs *o, const char *to, bool mark_beats,
                           struct us_error *error) US_WARN_UNUSED;
void outputs_send(struct outputs *o, const struct us_actions *actions);
/* Writes the files.  `sound_font` may be NULL. */
enum us_status outputs_save(struct outputs *o, const char *sound_font, double level,
                            const struct us_patch *patch, struct us_error *error) US_WARN_UNUSED;
void outputs_finish(struct outputs *o);

#endif
