#include "returns.h"

#include <math.h>

static const double NEAR = 1e-3;

/* What begins inside a beat, or is held into it. */
static uint32_t melody_of(const struct us_tune *tune, const struct us_beat_view *beat)
{
    uint32_t hash = 2166136261u;
    for (size_t i = us_tune_note_after(tune, beat->at); i < tune->note_count; i++) {
        const struct us_note *n = &tune->notes[i];
        if (n->at > beat->at + beat->len - NEAR) break;
        uint32_t from = n->at < beat->at - NEAR ? 255u : (uint32_t)((n->at - beat->at) * 48 + 0.5);
        uint32_t pitch = (uint32_t)n->pitch;
        hash = ((hash ^ from) * 16777619u ^ pitch) * 16777619u;
    }
    return hash;
}

/* The first beat of the bar that beat `t` is in. */
static size_t bar_of(const struct us_harmony_view *view, size_t t)
{
    while (t > 0 && view->beats[t - 1].position.bar == view->beats[t].position.bar)
        t--;
    return t;
}

/* Whether the bar that begins with beat `a` sounds as the one that begins with beat `b`. */
static bool same_bar(const struct us_tune *tune, const struct us_harmony_view *view, size_t a, size_t b)
{
    int32_t bar = view->beats[b].position.bar;
    for (size_t i = 0; b + i < view->beat_count && view->beats[b + i].position.bar == bar; i++)
        if (a + i >= b || melody_of(tune, &view->beats[a + i]) != melody_of(tune, &view->beats[b + i]))
            return false;
    return true;
}

static void count_bar(const struct us_harmony_view *view, const enum us_role *written, size_t a, size_t b,
                      struct returns *sum)
{
    int32_t bar = view->beats[b].position.bar;
    for (; b < view->beat_count && view->beats[b].position.bar == bar; a++, b++) {
        if (written[a] == US_ROLE_NONE || written[b] == US_ROLE_NONE) continue;
        sum->beats++;
        sum->written += written[a] == written[b];
        sum->said += us_chord_equal(view->beats[a].chord, view->beats[b].chord);
    }
}

void returns_count(const struct us_tune *tune, const struct us_harmony_view *view,
                   const enum us_role *written, struct returns *sum)
{
    for (size_t b = 1; b < view->beat_count; b++) {
        if (!view->beats[b].position.on_bar || view->beats[b].position.bar < 2) continue;
        size_t before = bar_of(view, b - 1);
        for (size_t a = 1; a < before; a++) {
            if (!view->beats[a].position.on_bar || view->beats[a].position.bar < 1) continue;
            if (!same_bar(tune, view, a, b) || !same_bar(tune, view, bar_of(view, a - 1), before)) continue;
            count_bar(view, written, a, b, sum);
            break;
        }
    }
}
