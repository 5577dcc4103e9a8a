#include "outputs.h"

#include "undersong/synth.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>
#include <sys/stat.h>
#include <unistd.h>

#include "target.h"

bool ends_with(const char *text, const char *end)
{
    size_t n = strlen(text), m = strlen(end);
    return n > m && strcasecmp(text + n - m, end) == 0;
}

bool outputs_is_file(const char *to)
{
    return ends_with(to, ".mid") || ends_with(to, ".midi") || ends_with(to, ".wav");
}

bool outputs_looks_like_file(const char *name)
{
    const char *dot = strrchr(name, '.');
    size_t letters = dot ? strspn(dot + 1, "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ") : 0;
    return letters >= 2 && !dot[letters + 1];
}

enum us_status outputs_spare(const char *path, const char *from, const char *tune, struct us_error *error)
{
    enum us_status status = from ? target_spares(path, from, error) : US_STATUS_OK;
    return !status && tune ? target_spares(path, tune, error) : status;
}

enum us_status outputs_spare_all(const struct text_list *to, const char *from, const char *tune,
                                 struct us_error *error)
{
    enum us_status status = US_STATUS_OK;
    for (size_t i = 0; i < to->count && !status; i++)
        if (outputs_is_file(to->items[i])) status = outputs_spare(to->items[i], from, tune, error);
    return status;
}

/* Asked before the first note, for what is played could not be kept after the last. */
static bool can_be_written(const char *path)
{
    struct stat known;
    bool there = stat(path, &known) == 0;
    if (there && S_ISDIR(known.st_mode)) {
        errno = EISDIR;
        return false;
    }
    if (there && access(path, W_OK)) return false;
    if (there && !S_ISREG(known.st_mode)) return true;
    char *real = there ? realpath(path, NULL) : strdup(path), *slash = real ? strrchr(real, '/') : NULL;
    if (slash) slash[1] = '\0';
    bool can = real && access(slash ? real : ".", W_OK) == 0;
    free(real);
    return can;
}

enum us_status outputs_add(struct outputs *o, const char *to, bool mark_beats, struct us_error *error)
{
    if (!can_be_written(to))
        return us_error_set(error, US_STATUS_BAD_INPUT,
                            "%.250s: cannot be written (%s); choose another place", to, strerror(errno));
    if (o->midi_count == OUTPUTS_MAX || o->wav_count == OUTPUTS_MAX)
        return us_error_set(error, US_STATUS_BAD_INPUT, "--to %.100s: too many; at most %d at once", to,
                            OUTPUTS_MAX);
    if (ends_with(to, ".wav")) {
        o->wav[o->wav_count++] = to;
        return US_STATUS_OK;
    }
    o->midi[o->midi_count] = sink_file_create(to, mark_beats);
    if (!o->midi[o->midi_count]) return us_error_no_memory(error);
    o->midi_count++;
    return US_STATUS_OK;
}

static void keep(struct action_list *list, const struct us_action *action)
{
    if (list->count == list->room) {
        size_t room = list->room ? 2 * list->room : 1024;
        struct us_action *grown = realloc(list->items, room * sizeof *grown);
        if (!grown) {
            list->out_of_memory = true;
            return;
        }
        list->items = grown;
        list->room = room;
    }
    list->items[list->count++] = *action;
}

void outputs_send(struct outputs *o, const struct us_actions *actions)
{
    for (int i = 0; i < o->midi_count; i++)
        sink_file_send(o->midi[i], actions);
    for (uint32_t i = 0; o->wav_count && i < actions->count; i++)
        if (actions->list[i].kind <= US_ACTION_ALL_OFF) keep(&o->actions, &actions->list[i]);
}

enum us_status outputs_save(struct outputs *o, const char *sound_font, double level,
                            const struct us_patch *patch, struct us_error *error)
{
    enum us_status status = US_STATUS_OK;
    for (int i = 0; i < o->midi_count && !status; i++)
        status = sink_file_save(o->midi[i], error);
    if (!status && o->actions.out_of_memory)
        status = us_error_set(error, US_STATUS_NO_MEMORY,
                              "%.200s: too long a performance for the memory there is", o->wav[0]);
    for (int i = 0; i < o->wav_count && !status; i++)
        status = us_synth_write_wav(o->wav[i], sound_font, level, patch, o->actions.items, o->actions.count,
                                    error);
    return status;
}

void outputs_finish(struct outputs *o)
{
    for (int i = 0; i < o->midi_count; i++)
        sink_file_destroy(o->midi[i]);
    free(o->actions.items);
    memset(o, 0, sizeof *o);
}
