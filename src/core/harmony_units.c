#include "harmony_units.h"

#include <math.h>

static const double NEAR = 1e-3;
/* A beat never rules a chord out for the others. */
static const double LEAST = 1e-3;

static bool begins_unit(const struct us_position *position)
{
    double half = us_metre_half_quarters(position->metre);
    bool has_half = us_metre_beats(position->metre) % 2 == 0;
    return position->on_bar || (has_half && fabs(position->bar_quarters - half) < NEAR);
}

/* The probability of each chord if all beats of the unit have the same one. */
static void together(const double *p, size_t beats, int states, double says[US_UNIT_STATES_MAX])
{
    double most = -INFINITY, all = 0;
    for (int i = 0; i < states; i++) {
        double most_here = 0, sum = 0;
        for (size_t t = 0; t < beats; t++) {
            double here = p[t * (size_t)states + (size_t)i];
            most_here = fmax(most_here, here);
            sum += log(here + LEAST);
        }
        says[i] = most_here > 0 ? sum : -INFINITY;
        most = fmax(most, says[i]);
    }
    for (int i = 0; i < states; i++)
        all += says[i] = exp(says[i] - most);
    for (int i = 0; i < states; i++)
        says[i] /= all;
}

static bool any_given(const struct us_chord *given, size_t beats)
{
    for (size_t t = 0; t < beats; t++)
        if (given[t].root != US_NO_CHORD) return true;
    return false;
}

static void speak(double *p, size_t beats, double share, int states)
{
    double says[US_UNIT_STATES_MAX];
    together(p, beats, states, says);
    for (size_t t = 0; t < beats; t++)
        for (int i = 0; i < states; i++) {
            double *here = &p[t * (size_t)states + (size_t)i];
            *here += share * (says[i] - *here);
        }
}

void us_units_speak(const struct us_beat_view *views, const struct us_chord *given, size_t count,
                    double share, double *p, int states)
{
    for (size_t from = 0, until; from < count; from = until) {
        until = from + 1;
        while (until < count && !begins_unit(&views[until].position))
            until++;
        if (until > from + 1 && !any_given(&given[from], until - from))
            speak(&p[from * (size_t)states], until - from, share, states);
    }
}
