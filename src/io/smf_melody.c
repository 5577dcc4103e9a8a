#include "smf_melody.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { CHANNELS = 16, PERCUSSION = 9 };

/* What a track plays on one channel. */
struct part {
    uint16_t track;
    uint8_t channel;
    size_t notes;
    double pitch_sum;
};

/* Parts looked at; a file with more has its melody among the first. */
enum { PARTS_MAX = 256 };

static bool is_note_on(const struct us_smf_event *event)
{
    return (event->status & 0xF0) == US_MIDI_NOTE_ON && (event->status & 0x0F) != PERCUSSION;
}

static size_t find_parts(const struct us_smf *smf, struct part *parts)
{
    size_t count = 0, at;
    for (size_t i = 0; i < smf->count; i++) {
        const struct us_smf_event *event = &smf->events[i];
        if (!is_note_on(event)) continue;
        uint8_t channel = event->status & 0x0F;
        for (at = 0; at < count; at++)
            if (parts[at].track == event->track && parts[at].channel == channel) break;
        if (at == PARTS_MAX) continue;
        if (at == count) parts[count++] = (struct part){event->track, channel, 0, 0};
        parts[at].notes++;
        parts[at].pitch_sum += event->data1;
    }
    return count;
}

static bool named_melody(const struct us_smf *smf, uint16_t track)
{
    static const char WORD[] = "melody";
    for (size_t i = 0; i < smf->count; i++) {
        const struct us_smf_event *event = &smf->events[i];
        if (event->track != track || !us_smf_is_meta(event, US_SMF_TRACK_NAME)) continue;
        for (size_t from = 0; from + sizeof WORD - 1 <= event->length; from++) {
            size_t same = 0;
            while (same < sizeof WORD - 1 && (event->data[from + same] | 0x20) == WORD[same])
                same++;
            if (same == sizeof WORD - 1) return true;
        }
    }
    return false;
}

bool us_smf_find_melody(const struct us_smf *smf, struct us_smf_melody *melody)
{
    struct part parts[PARTS_MAX];
    size_t count = find_parts(smf, parts), most = 0;
    const struct part *best = NULL;
    for (size_t i = 0; i < count; i++)
        if (parts[i].notes > most) most = parts[i].notes;
    for (size_t i = 0; i < count; i++) {
        if (count > 1 && named_melody(smf, parts[i].track)) {
            best = &parts[i];
            break;
        }
        if (parts[i].notes * 4 < most) continue;
        if (!best || parts[i].pitch_sum / (double)parts[i].notes > best->pitch_sum / (double)best->notes)
            best = &parts[i];
    }
    if (best) *melody = (struct us_smf_melody){best->track, best->channel};
    return best != NULL;
}

size_t us_smf_collect(const struct us_smf *smf, struct us_smf_melody melody, struct us_note *notes)
{
    size_t sounding[US_PITCHES] = {0}, count = 0; /* index + 1 */
    for (size_t i = 0; i < smf->count; i++) {
        const struct us_smf_event *event = &smf->events[i];
        uint8_t kind = event->status & 0xF0;
        if (event->track != melody.track || (event->status & 0x0F) != melody.channel) continue;
        if (kind != US_MIDI_NOTE_ON && kind != US_MIDI_NOTE_OFF) continue;
        size_t *open = &sounding[event->data1];
        if (*open) notes[*open - 1].len = event->at_quarters - notes[*open - 1].at;
        *open = 0;
        if (kind == US_MIDI_NOTE_OFF) continue;
        notes[count++] = (struct us_note){event->at_quarters, -1, event->data1, event->data2};
        *open = count;
    }
    for (size_t i = 0; i < count; i++) /* never released: until the end */
        if (notes[i].len < 0) notes[i].len = smf->end_quarters - notes[i].at;
    size_t kept = 0;
    for (size_t i = 0; i < count; i++)
        if (notes[i].len > 0) notes[kept++] = notes[i];
    return kept;
}

/* Places inside a quarter, in twelfths: sixteenths and triplets together. */
static double nearest_beat_part(double at)
{
    static const int PLACES[] = {0, 3, 4, 6, 8, 9, 12};
    double whole = floor(at), best = whole;
    for (size_t i = 0; i < sizeof PLACES / sizeof *PLACES; i++)
        if (fabs(whole + PLACES[i] / 12.0 - at) < fabs(best - at)) best = whole + PLACES[i] / 12.0;
    return best;
}

enum { FINE = 48 }; /* written music stands on 48ths of a quarter: 64th notes and triplets of 32nds */

static double nearest_fine(double at)
{
    return round(at * FINE) / FINE;
}

/* Share of the notes that start within `slack` of the fine grid. */
static double share_on_grid(const struct us_note *notes, size_t count, double slack)
{
    size_t good = 0;
    for (size_t i = 0; i < count; i++)
        if (fabs(nearest_fine(notes[i].at) - notes[i].at) <= slack) good++;
    return (double)good / (double)count;
}

static double mean_distance(const struct us_note *notes, size_t count)
{
    double sum = 0;
    for (size_t i = 0; i < count; i++)
        sum += fabs(nearest_beat_part(notes[i].at) - notes[i].at);
    return sum / (double)count;
}

static void round_written(struct us_note *note, double slack)
{
    double at = nearest_fine(note->at), end = nearest_fine(note->at + note->len);
    if (fabs(end - note->at - note->len) <= slack) note->len = end - note->at;
    if (fabs(at - note->at) <= slack) {
        note->len += note->at - at;
        note->at = at;
    }
    if (note->len <= 0) note->len = 1.0 / FINE; /* shorter than the grid */
}

/* Played notes: a short gap before the next note is touch, not a rest. */
static void round_played(struct us_note *notes, size_t count)
{
    for (size_t i = 0; i < count; i++) {
        double end = notes[i].at + notes[i].len;
        notes[i].at = nearest_beat_part(notes[i].at);
        notes[i].len = fmax(nearest_beat_part(end) - notes[i].at, 1.0 / 6);
    }
    for (size_t i = 0; i + 1 < count; i++) {
        double gap = notes[i + 1].at - notes[i].at - notes[i].len;
        if (gap > 0 && gap <= 0.25) notes[i].len += gap;
    }
}

static int by_start(const void *a, const void *b)
{
    const struct us_note *x = a, *y = b;
    if (x->at != y->at) return x->at < y->at ? -1 : 1;
    return y->pitch - x->pitch; /* the highest first */
}

void us_smf_to_grid(struct us_note *notes, size_t count, int ticks_per_quarter)
{
    /* Written: nineteen of twenty on the grid but for the rounding of ticks.  Kept to the tempo: nearer than
       half of what chance gives, 0.049 quarters. */
    const double slack = fmin(ticks_per_quarter ? 0.51 / ticks_per_quarter + 1e-9 : 1e-3, 0.005);
    if (!count) return;
    if (share_on_grid(notes, count, slack) >= 0.95) {
        for (size_t i = 0; i < count; i++)
            round_written(&notes[i], slack);
    } else if (mean_distance(notes, count) < 0.024) {
        round_played(notes, count);
    }
    qsort(notes, count, sizeof *notes, by_start);
}

/* Whether `note` lies under `above`, which goes on for most of it: an inner voice. */
static bool is_inner(const struct us_note *note, const struct us_note *above)
{
    double together = above->at + above->len - note->at;
    return note->pitch < above->pitch && together > note->len / 2;
}

/* Struck together with `last`, but for the unevenness of fingers. */
static bool is_together(const struct us_note *note, const struct us_note *last)
{
    return note->at - last->at < 0.06 && last->at + last->len > note->at + 0.03;
}

size_t us_smf_one_voice(struct us_note *notes, size_t count)
{
    size_t kept = 0;
    for (size_t i = 0; i < count; i++) {
        struct us_note *last = kept ? &notes[kept - 1] : NULL;
        if (last && (notes[i].at <= last->at || is_inner(&notes[i], last))) continue;
        if (last && is_together(&notes[i], last)) {
            *last = notes[i];
            continue;
        }
        if (last && last->at + last->len > notes[i].at) last->len = notes[i].at - last->at;
        notes[kept++] = notes[i];
    }
    return kept;
}
