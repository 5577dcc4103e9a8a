/* The whole tune: the chord of each beat, given everything before and after it. */
#include "harmony_internal.h"

#include <math.h>
#include <string.h>

/* The workspace: one of these a beat. */
struct beat {
    struct us_beat_view view;
    double fit[US_ROLES];     /* log, from the melody */
    double forward[US_ROLES]; /* probabilities */
    double backward[US_ROLES];
    bool given;
    struct us_chord given_chord;
};

size_t us_harmony_workspace_size(const struct us_harmony_request *request)
{
    size_t beats = us_harmony_beats(request);
    return (beats + 1) * (sizeof(struct beat) + sizeof(struct us_beat_view));
}

static struct us_key key_at(const struct us_harmony_request *request, double at)
{
    struct us_key key = request->key;
    for (size_t i = 0; i < request->key_count && request->keys[i].at <= at + 1e-6; i++)
        key = request->keys[i].key;
    return key;
}

static bool chord_given(const struct us_chord_span *spans, size_t count, double at, struct us_chord *chord)
{
    for (size_t i = 0; i < count; i++)
        if (spans[i].at <= at + 1e-6 && at + 1e-6 < spans[i].at + spans[i].len) {
            *chord = spans[i].chord;
            return true;
        }
    return false;
}

static void prepare_beat(const struct us_harmony_request *request, const struct us_grid *grid, size_t i,
                         struct beat *beat)
{
    struct us_beat_view *view = &beat->view;
    memset(beat, 0, sizeof *beat);
    view->at = us_grid_at(grid, i);
    view->len = us_grid_at(grid, i + 1) - view->at;
    us_grid_position(grid, request, i, &view->position);
    view->key = key_at(request, view->at);
    view->same_as = -1;
    view->may_change = us_harmony_may_change(request->change, &view->position);
    beat->given =
        chord_given(request->fixed, request->fixed_count, view->at, &beat->given_chord) ||
        (!request->ignore_tune_chords &&
         chord_given(request->tune->chords, request->tune->chord_count, view->at, &beat->given_chord));
}

/* Each note speaks in proportion to how long it sounds inside the beat, and a little more at its start. */
static void hear_notes(const struct us_tune *tune, struct beat *beats, size_t count,
                       const struct us_grid *grid)
{
    for (size_t n = 0; n < tune->note_count; n++) {
        const struct us_note *note = &tune->notes[n];
        size_t i = 0;
        if (note->at >= grid->first)
            i = (size_t)((note->at - grid->first) / grid->beat + 1e-6) + (grid->first > 0);
        for (; i < count && beats[i].view.at < note->at + note->len - 1e-6; i++) {
            struct us_beat_view *view = &beats[i].view;
            double from = fmax(note->at, view->at), to = fmin(note->at + note->len, view->at + view->len);
            double weight = (to - from) / grid->beat + (note->at <= view->at + 1e-6 ? 0.5 : 0.0);
            for (int r = US_ROLE_I; r < US_ROLES; r++)
                beats[i].fit[r] += weight * us_harmony_fit(view->key, (enum us_role)r, note->pitch);
        }
    }
}

static void normalise(double role[US_ROLES])
{
    double sum = role[US_ROLE_I] + role[US_ROLE_IV] + role[US_ROLE_V];
    for (int r = US_ROLE_I; r < US_ROLES; r++)
        role[r] = sum > 0 ? role[r] / sum : 1.0 / 3;
}

static double local(const struct beat *beat, int role)
{
    if (beat->given) {
        enum us_role given = us_chord_role(beat->given_chord, beat->view.key);
        return given == US_ROLE_NONE || given == (enum us_role)role ? 1 : 0;
    }
    return exp(beat->fit[role]);
}

static double move(const struct beat *to_beat, int from, int to)
{
    if (!to_beat->view.may_change && !to_beat->given) return from == to ? 1 : 0;
    return exp(us_harmony_move((enum us_role)from, (enum us_role)to, to_beat->view.position.on_bar));
}

static void forward_backward(struct beat *beats, size_t count)
{
    static const double START[US_ROLES] = {0, 0.8, 0.1, 0.1}, END[US_ROLES] = {0, 0.95, 0.02, 0.03};
    for (size_t i = 0; i < count; i++) {
        for (int to = US_ROLE_I; to < US_ROLES; to++) {
            double sum = 0;
            for (int from = US_ROLE_I; i && from < US_ROLES; from++)
                sum += beats[i - 1].forward[from] * move(&beats[i], from, to);
            beats[i].forward[to] = (i ? sum : START[to]) * local(&beats[i], to);
        }
        normalise(beats[i].forward);
    }
    for (size_t i = count; i-- > 0;) {
        for (int from = US_ROLE_I; from < US_ROLES; from++) {
            double sum = 0;
            for (int to = US_ROLE_I; i + 1 < count && to < US_ROLES; to++)
                sum += move(&beats[i + 1], from, to) * local(&beats[i + 1], to) * beats[i + 1].backward[to];
            beats[i].backward[from] = i + 1 < count ? sum : END[from];
        }
        normalise(beats[i].backward);
    }
}

static void judge(const struct us_harmony_request *request, struct beat *beat, struct us_choice *choice)
{
    struct us_beat_view *view = &beat->view;
    for (int r = US_ROLE_I; r < US_ROLES; r++) {
        view->role[r] = beat->forward[r] * beat->backward[r];
        view->melody[r] = exp(beat->fit[r]);
    }
    normalise(view->role);
    normalise(view->melody);
    us_harmony_choose(view->role, view->key, request->chords, choice);
    if (beat->given) {
        choice->chord = beat->given_chord;
        choice->probability = 1;
        choice->alternatives = 0;
    }
    view->chord = choice->chord;
}

size_t us_harmony_tune(const struct us_harmony_request *request, void *workspace, struct us_chord_choice *out,
                       size_t max, struct us_harmony_view *view)
{
    struct us_grid grid;
    us_grid_make(&grid, request);
    struct beat *beats = workspace;
    struct us_beat_view *views = (struct us_beat_view *)(beats + grid.count + 1);
    for (size_t i = 0; i < grid.count; i++)
        prepare_beat(request, &grid, i, &beats[i]);
    hear_notes(request->tune, beats, grid.count, &grid);
    forward_backward(beats, grid.count);
    size_t chords = 0;
    for (size_t i = 0; i < grid.count; i++) {
        struct us_choice choice;
        judge(request, &beats[i], &choice);
        views[i] = beats[i].view;
        struct us_chord_choice *last = chords ? &out[chords - 1] : NULL;
        if (last && us_chord_equal(last->choice.chord, choice.chord) && last->given == beats[i].given)
            last->len += views[i].len;
        else if (chords < max)
            out[chords++] = (struct us_chord_choice){views[i].at, views[i].len, choice, beats[i].given};
    }
    if (view) *view = (struct us_harmony_view){views, grid.count};
    return chords;
}
