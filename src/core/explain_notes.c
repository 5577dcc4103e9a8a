#include "explain_notes.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "harmony_internal.h"

static const double NEAR = 1e-3;
enum { RUN_LEAST = 4 };

struct us_key us_explain_key(const struct us_explain *e, double at)
{
    return us_harmony_key_at(e->request, at);
}

char *us_step_name(struct us_key key, int pitch, enum us_step_names names, char *out, size_t size)
{
    if (names != US_STEPS_NUMBERS) {
        enum us_syllables style = names == US_STEPS_LA ? US_SYLLABLES_LA : US_SYLLABLES_DO;
        snprintf(out, size, "%s", us_key_syllable(key, pitch, style));
        return out;
    }
    struct us_step step = us_key_step(key, pitch);
    snprintf(out, size, "%s%d", step.alter > 0 ? "raised " : step.alter < 0 ? "lowered " : "", step.number);
    return out;
}

static bool on_multiple(double x, double every)
{
    double off = fmod(fabs(x), every);
    return off < NEAR || every - off < NEAR;
}

static bool is_step(int from, int to)
{
    int size = abs(to - from);
    return size == 1 || size == 2;
}

/* The pitch of the note that follows or precedes, over a rest too, or -1. */
static int neighbour_pitch(const struct us_tune *tune, size_t index, int direction)
{
    if (direction < 0 ? index == 0 : index + 1 >= tune->note_count) return -1;
    return tune->notes[direction < 0 ? index - 1 : index + 1].pitch;
}

/* `accented`: it falls on a bar line or the half of a bar; between them a note passes, on them it leans. */
static enum note_role role_of(const struct us_tune *tune, size_t index, us_pcset tones, bool accented)
{
    int pitch = tune->notes[index].pitch;
    if (us_pcset_has(tones, pitch)) return NOTE_TONE;
    int before = neighbour_pitch(tune, index, -1), after = neighbour_pitch(tune, index, 1);
    bool steps_in = before >= 0 && is_step(before, pitch), steps_out = after >= 0 && is_step(pitch, after);
    if (steps_in && steps_out && before == after) return NOTE_NEIGHBOUR;
    if (steps_in && steps_out && (after > pitch) == (pitch > before))
        return accented ? NOTE_LEANING : NOTE_PASSING;
    if (steps_out && us_pcset_has(tones, after))
        return accented ? NOTE_LEANING : steps_in ? NOTE_NEIGHBOUR : NOTE_LEADING;
    return NOTE_FREE;
}

static void collect(const struct us_explain *e, us_pcset tones, double from, double until, struct heard *out)
{
    const struct us_tune *tune = e->request->tune;
    struct us_metre metre = e->request->metre;
    double beat = us_metre_beat_quarters(metre), bar = us_metre_bar_quarters(metre);
    double accent = us_metre_beats(metre) % 2 == 0 ? bar / 2 : bar;
    for (size_t i = us_tune_note_after(tune, from); i < tune->note_count && out->count < HEARD_MAX; i++) {
        const struct us_note *note = &tune->notes[i];
        if (note->at > until) break;
        double start = note->at < from ? from : note->at;
        double end = note->at + note->len > until ? until : note->at + note->len;
        if (end - start < NEAR) continue;
        bool held = note->at < from - NEAR;
        double in_bar = note->at - e->request->pickup;
        bool strong = held || on_multiple(in_bar, beat);
        double weight = (end - start) * (held ? 0.5 : on_multiple(in_bar, bar) ? 2.0 : strong ? 1.5 : 1.0);
        if (!held) out->begins = true;
        out->notes[out->count++] = (struct heard_note){i, note->pitch, weight, strong,
                                                       role_of(tune, i, tones, on_multiple(in_bar, accent))};
    }
}

/* Of two notes the one that speaks for the chord, else the longer one. */
static bool says_more(const struct heard_note *n, const struct heard_note *than)
{
    if (!than || (n->role == NOTE_TONE) != (than->role == NOTE_TONE)) return !than || n->role == NOTE_TONE;
    return n->weight > than->weight;
}

/* The steps that count: on the beats and not mere neighbours; where that leaves none, the longest note of the
   chord's, else of all. */
static void choose_main(struct heard *h)
{
    us_pcset seen = 0;
    const struct heard_note *longest = NULL;
    for (size_t i = 0; i < h->count; i++) {
        const struct heard_note *n = &h->notes[i];
        if (says_more(n, longest)) longest = n;
        bool counts = n->strong && (n->role == NOTE_TONE || n->role == NOTE_FREE);
        if (!counts || us_pcset_has(seen, n->pitch) || h->main_count == MAIN_STEPS_MAX) continue;
        seen |= us_pcset_transpose(1, n->pitch);
        h->main[h->main_count++] = n->pitch;
    }
    if (h->main_count == 0 && longest) h->main[h->main_count++] = longest->pitch;
}

static void find_peak(const struct us_tune *tune, struct heard *h)
{
    h->peak = -1;
    for (size_t i = 0; i < h->count; i++) {
        const struct heard_note *n = &h->notes[i];
        int before = neighbour_pitch(tune, n->index, -1), after = neighbour_pitch(tune, n->index, 1);
        int two_before = n->index >= 2 ? tune->notes[n->index - 2].pitch : -1;
        int two_after = n->index + 2 < tune->note_count ? tune->notes[n->index + 2].pitch : -1;
        bool top = before >= 0 && after >= 0 && n->pitch > before && n->pitch > after &&
                   n->pitch > two_before && n->pitch > two_after;
        if (top && n->strong && n->pitch > h->peak) h->peak = n->pitch;
    }
}

static void find_run(const struct us_tune *tune, struct heard *h)
{
    size_t first = 0;
    for (size_t i = 1; i <= h->count; i++) {
        bool goes_on = false;
        if (i < h->count && is_step(h->notes[i - 1].pitch, h->notes[i].pitch)) {
            bool up = h->notes[i].pitch > h->notes[i - 1].pitch;
            goes_on = i == first + 1 || up == (h->notes[i - 1].pitch > h->notes[i - 2].pitch);
        }
        if (goes_on) continue;
        if (i - first >= RUN_LEAST && i - first > h->run_until - h->run_from) {
            h->run_from = h->notes[first].index;
            h->run_until = h->notes[i - 1].index + 1;
        }
        first = i < h->count && is_step(h->notes[i - 1].pitch, h->notes[i].pitch) ? i - 1 : i;
    }
}

void us_hear(const struct us_explain *e, struct us_chord chord, double from, double until, struct heard *out)
{
    memset(out, 0, sizeof *out);
    out->key = us_explain_key(e, from);
    out->chord = chord;
    collect(e, us_chord_tones(chord), from, until, out);
    choose_main(out);
    find_peak(e->request->tune, out);
    find_run(e->request->tune, out);
}

bool us_heard_holds(const struct heard *h, us_pcset tones)
{
    for (size_t i = 0; i < h->main_count; i++)
        if (!us_pcset_has(tones, h->main[i])) return false;
    return h->main_count > 0;
}
