/* The melody of a Standard MIDI File: one part of it, one note at a time. */
#include "tune_midi.h"

#include <stdlib.h>
#include <string.h>

enum { PARTS_MAX = 256, DRUMS = 9, VELOCITY_MISSING = 80 };

/* A track's notes on one channel. */
struct part {
    uint16_t track;
    uint8_t channel;
    size_t count;
    double pitch_sum;
};

static bool is_note_on(const struct us_smf_event *event)
{
    return (event->status & 0xF0) == 0x90 && event->data2 && (event->status & 0x0F) != DRUMS;
}

static bool in_part(const struct us_smf_event *event, const struct part *part)
{
    return event->track == part->track && (event->status & 0x0F) == part->channel;
}

/* The highest of the parts that are not mere additions; our own files have the melody on channel 1. */
static bool choose_part(const struct us_smf *smf, struct part *best)
{
    struct part parts[PARTS_MAX];
    size_t count = 0, most = 0;
    for (size_t i = 0; i < smf->count; i++) {
        const struct us_smf_event *event = &smf->events[i];
        if (!is_note_on(event)) continue;
        size_t p = 0;
        while (p < count && !in_part(event, &parts[p]))
            p++;
        if (p == PARTS_MAX) continue;
        if (p == count)
            parts[count++] = (struct part){.track = event->track, .channel = event->status & 0x0F};
        parts[p].count++;
        parts[p].pitch_sum += event->data1;
        if (parts[p].count > most) most = parts[p].count;
    }
    double highest = -1;
    for (size_t p = 0; p < count; p++) {
        double mean = parts[p].pitch_sum / (double)parts[p].count;
        if (parts[p].count * 4 < most || mean <= highest) continue;
        highest = mean;
        *best = parts[p];
    }
    return count > 0;
}

/* The notes of the part with their ends, in order of their starts. */
static size_t collect(const struct us_smf *smf, const struct part *part, struct us_note *notes)
{
    size_t count = 0;
    long sounding[US_PITCHES];
    memset(sounding, -1, sizeof sounding);
    for (size_t i = 0; i < smf->count; i++) {
        const struct us_smf_event *event = &smf->events[i];
        int kind = event->status & 0xF0;
        if ((kind != 0x80 && kind != 0x90) || !in_part(event, part)) continue;
        long *open = &sounding[event->data1 & 0x7F];
        if (*open >= 0) {
            notes[*open].len = event->at_quarters - notes[*open].at;
            *open = -1;
        }
        if (!is_note_on(event)) continue;
        *open = (long)count;
        notes[count++] = (struct us_note){event->at_quarters, 0, event->data1, event->data2};
    }
    for (int pitch = 0; pitch < US_PITCHES; pitch++)
        if (sounding[pitch] >= 0) {
            struct us_note *note = &notes[sounding[pitch]];
            note->len = smf->end_quarters - note->at;
        }
    return count;
}

/* The upper line: of notes struck together the highest, and nothing that starts and ends under a higher one.
 */
static size_t upper_line(struct us_note *notes, size_t count)
{
    const double together = 0.06;
    size_t kept = 0;
    for (size_t i = 0; i < count; i++) {
        struct us_note note = notes[i];
        if (note.len <= 0) continue;
        struct us_note *before = kept ? &notes[kept - 1] : NULL;
        if (before && note.at - before->at < together) {
            if (note.pitch > before->pitch) *before = note;
            continue;
        }
        double overlap = before ? before->at + before->len - note.at : 0;
        if (overlap > 0 && note.pitch < before->pitch && overlap > 0.5 * note.len) continue;
        if (overlap > 0) before->len = note.at - before->at;
        notes[kept++] = note;
    }
    return kept;
}

static void read_head(const struct us_smf *smf, struct us_tune_file *out)
{
    struct us_tune *tune = &out->tune;
    tune->key.tonic = US_NO_KEY;
    for (size_t i = 0; i < smf->count; i++) {
        const struct us_smf_event *event = &smf->events[i];
        if (us_smf_is_meta(event, US_SMF_METRE) && !tune->metre.top) tune->metre = us_smf_metre(event);
        if (us_smf_is_meta(event, US_SMF_TEMPO) && tune->quarters_a_minute <= 0)
            tune->quarters_a_minute = 60e6 / us_smf_tempo_us(event);
        struct us_key key = us_smf_key(event);
        /* C major is what programs write that know nothing of keys: better to listen. */
        bool told = key.tonic > 0 || (key.tonic == 0 && key.mode != US_MODE_MAJOR);
        if (us_smf_is_meta(event, US_SMF_KEY) && told && tune->key.tonic == US_NO_KEY) tune->key = key;
        bool names = event->track == 0 && us_smf_is_meta(event, US_SMF_TRACK_NAME) && event->length;
        if (names && !out->title) out->title = strndup((const char *)event->data, event->length);
    }
    if (!out->title) out->title = strdup("");
}

enum us_status us_tune_from_smf(const struct us_smf *smf, const char *name, struct us_tune_file *out,
                                struct us_error *error)
{
    struct part part = {0};
    memset(out, 0, sizeof *out);
    if (!choose_part(smf, &part))
        return us_error_set(error, US_STATUS_BAD_INPUT, "%s: no notes in it; give a file with a melody",
                            name);
    out->notes = calloc(part.count, sizeof *out->notes);
    read_head(smf, out);
    if (!out->notes || !out->title) {
        us_tune_file_finish(out);
        return us_error_set(error, US_STATUS_NO_MEMORY, "%s: no memory left for the tune", name);
    }
    out->tune.note_count = upper_line(out->notes, collect(smf, &part, out->notes));
    out->tune.notes = out->notes;
    out->tune.title = out->title;
    out->number = 1;
    return US_STATUS_OK;
}
