#include "undersong/smf_tune.h"

#include <stdlib.h>
#include <string.h>
#include <strings.h>

#include "smf_melody.h"
#include "undersong/plain_line.h"

/* The first event of its kind, or NULL. */
static const struct us_smf_event *first_meta(const struct us_smf *smf, enum us_smf_meta type)
{
    for (size_t i = 0; i < smf->count; i++)
        if (us_smf_is_meta(&smf->events[i], type)) return &smf->events[i];
    return NULL;
}

static char *copy_title(const struct us_smf *smf)
{
    const struct us_smf_event *name = first_meta(smf, US_SMF_TRACK_NAME);
    size_t length = name && name->track == 0 ? name->length : 0;
    char *title = malloc(length + 1);
    if (!title) return NULL;
    size_t used = 0;
    for (size_t i = 0; i < length; i++)
        if (name->data[i] >= ' ' && name->data[i] != 0x7F) title[used++] = (char)name->data[i];
    title[used] = '\0';
    return us_plain_line(title, title, used + 1);
}

/* The metre, and the pickup where time signatures that follow tell it: a first one that lasts one short bar,
   or a later one that stands off the bar lines counted from the start. */
static void find_metre(const struct us_smf *smf, struct us_tune *tune)
{
    double first_at = 0;
    tune->pickup = -1;
    for (size_t i = 0; i < smf->count; i++) {
        struct us_metre metre = us_smf_metre(&smf->events[i]);
        double at = smf->events[i].at_quarters;
        if (!metre.top) continue;
        if (!tune->metre.top || at <= first_at) {
            tune->metre = metre;
            first_at = at;
            continue;
        }
        double bar = us_metre_bar_quarters(tune->metre), span = at - first_at;
        if (span == bar && us_metre_bar_quarters(metre) > bar && first_at == 0) {
            tune->metre = metre;
            tune->pickup = bar;
        } else {
            tune->pickup = span - bar * (double)(int64_t)(span / bar);
        }
        return;
    }
}

static void read_head(const struct us_smf *smf, struct us_tune *tune)
{
    const struct us_smf_event *key = first_meta(smf, US_SMF_KEY), *tempo = first_meta(smf, US_SMF_TEMPO);
    tune->key = key ? us_smf_key(key) : (struct us_key){US_NO_KEY, 0};
    /* C major is what programs write that know nothing of keys: better to listen. */
    if (tune->key.tonic == 0 && tune->key.mode == US_MODE_MAJOR) tune->key.tonic = US_NO_KEY;
    if (tempo) tune->quarters_a_minute = 60e6 / us_smf_tempo_us(tempo);
    find_metre(smf, tune);
}

static enum us_status fill(const struct us_smf *smf, const char *name, struct us_tune_file *out,
                           struct us_error *error)
{
    struct us_smf_melody melody;
    bool found = us_smf_find_melody(smf, &melody);
    out->notes = malloc((smf->count + 1) * sizeof *out->notes);
    out->title = copy_title(smf);
    if (!out->notes || !out->title)
        return us_error_set(error, US_STATUS_NO_MEMORY, "%s: not enough memory", name);
    size_t count = found ? us_smf_collect(smf, melody, out->notes) : 0;
    if (!count)
        return us_error_set(error, US_STATUS_BAD_INPUT, "%s: the file holds no notes; give one with a melody",
                            name);
    us_smf_to_grid(out->notes, count, smf->ticks_per_quarter);
    out->tune.note_count = us_smf_one_voice(out->notes, count);
    out->tune.notes = out->notes;
    out->tune.title = out->title;
    out->number = 1;
    read_head(smf, &out->tune);
    return US_STATUS_OK;
}

enum us_status us_smf_tune(const void *bytes, size_t size, const char *name, struct us_tune_file *out,
                           struct us_error *error)
{
    struct us_smf smf;
    *out = (struct us_tune_file){0};
    enum us_status status = us_smf_read(&smf, bytes, size, name, error);
    if (status) return status;
    status = fill(&smf, name, out, error);
    us_smf_finish(&smf);
    if (status) {
        free(out->notes);
        free(out->title);
        *out = (struct us_tune_file){0};
    }
    return status;
}
