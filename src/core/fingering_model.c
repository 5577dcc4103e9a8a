/* What a fingering costs: the rules. */
#include "fingering_model.h"

#include <stdlib.h>

/* Comfort of two fingers on two keys, in semitones from the lower-numbered finger to the higher one; negative
   where the hand crosses over its thumb (Parncutt et al. 1997, table 1, from memory). */
struct span {
    double min_practical, min_comfortable, min_relaxed, max_relaxed, max_comfortable, max_practical;
};
static const struct span SPANS[US_FINGERS][US_FINGERS] = {
    [0][1] = {-5, -3, 1, 5, 8, 10},  [0][2] = {-4, -2, 3, 7, 10, 12}, [0][3] = {-3, -1, 5, 9, 12, 14},
    [0][4] = {-1, 1, 7, 10, 13, 15}, [1][2] = {1, 1, 1, 2, 3, 5},     [1][3] = {1, 1, 3, 4, 5, 7},
    [1][4] = {2, 2, 5, 6, 8, 10},    [2][3] = {1, 1, 1, 2, 2, 4},     [2][4] = {1, 1, 3, 4, 5, 7},
    [3][4] = {1, 1, 1, 2, 3, 5},
};

/* The paper's twelve rules and their points (from memory).  Three of them differ: with the paper's cheap
   thumb pass scales come out as 1 2 1 2, so here a pass costs more, a thumb on a black key too, and the size
   of a change of position less; chosen so that the model by itself gives the scales of the handbook. */
static const double STRETCH = 2, SMALL_SPAN = 2, SMALL_SPAN_THUMB = 1, LARGE_SPAN = 2, LARGE_SPAN_THUMB = 1;
static const double CHANGE_HALF = 1, CHANGE_FULL = 2, CHANGE_SIZE = 0.25;
static const double WEAK = 1, THREE_FOUR_FIVE = 1, THREE_TO_FOUR = 1, FOUR_ON_BLACK = 1;
static const double THUMB_ON_BLACK = 6, THUMB_BY_WHITE = 2, FIVE_BY_WHITE = 2;
static const double PASS_LEVEL = 1, PASS_ONTO_BLACK = 3, PASS = 12;

/* What the paper leaves out: fingers that cannot follow each other legato, and what a pupil learns with
   scales (common practice, no source): where the thumb passes in the keys on white keynotes, and to begin and
   end on a black keynote with the finger that a longer run would have there; a finger a step within five
   notes. */
static const double ONE_FINGER_TWO_KEYS = 20, TWO_FINGERS_ONE_KEY = 6, CROSS_WITHOUT_THUMB = 12;
static const double PASS_ELSEWHERE = 4, OFF_SCALE_FINGER = 2, OFF_HOME_FINGER = 16, OFF_STEP = 0.25;
static const double ACROSS_A_REST = 0.2;

bool fingering_is_black(int pitch)
{
    return us_pcset_has(1 << 1 | 1 << 3 | 1 << 6 | 1 << 8 | 1 << 10, pitch);
}

/* The span from finger `a` to finger `b` for `semitones`, turned so that the lower-numbered finger comes
 * first. */
static struct span span_of(int a, int b, double *semitones)
{
    if (a < b) return SPANS[a - 1][b - 1];
    *semitones = -*semitones;
    return SPANS[b - 1][a - 1];
}

static double beyond(double value, double least, double most)
{
    return value > most ? value - most : value < least ? least - value : 0;
}

/* Rules 1 to 3: the hand stretched, cramped, wide. */
static double span_cost(const struct fingering_model *m, int from, int to, int a, int b)
{
    double semitones = to - from;
    struct span span = span_of(a, b, &semitones);
    bool thumb = a == 1 || b == 1;
    double cost = STRETCH * beyond(semitones, span.min_comfortable, span.max_comfortable * m->stretch_factor);
    if (semitones < span.min_relaxed)
        cost += (thumb ? SMALL_SPAN_THUMB : SMALL_SPAN) * (span.min_relaxed - semitones);
    double wide = span.max_relaxed * m->stretch_factor;
    if (semitones > wide) cost += (thumb ? LARGE_SPAN_THUMB : LARGE_SPAN) * (semitones - wide);
    return cost;
}

/* Rule 12, the thumb under the hand or the hand over the thumb, and where a pupil does it. */
static double pass_cost(const struct fingering_model *m, int thumb, int other)
{
    double cost = PASS;
    if (fingering_is_black(thumb) == fingering_is_black(other))
        cost += PASS_LEVEL;
    else if (fingering_is_black(thumb))
        cost += PASS_ONTO_BLACK;
    if (m->passes && !us_pcset_has(m->passes, thumb)) cost += PASS_ELSEWHERE;
    return cost;
}

/* Rules 8 to 11 as far as two notes show them. */
static double keys_cost(int from, int to, int a, int b)
{
    double cost = 0;
    if (a == 3 && b == 4) cost += THREE_TO_FOUR;
    if (a + b == 7 && a != 2 && b != 2) {
        int three = a == 3 ? from : to, four = a == 3 ? to : from;
        if (!fingering_is_black(three) && fingering_is_black(four)) cost += FOUR_ON_BLACK;
    }
    if (fingering_is_black(from) && !fingering_is_black(to))
        cost += a == 1 ? THUMB_BY_WHITE : a == 5 ? FIVE_BY_WHITE : 0;
    if (!fingering_is_black(from) && fingering_is_black(to))
        cost += b == 1 ? THUMB_BY_WHITE : b == 5 ? FIVE_BY_WHITE : 0;
    return cost;
}

/* How far the fingers are from one a step of the scale, in a third, fourth or fifth. */
static double step_habit(const struct fingering_model *m, int from, int to, int a, int b)
{
    if (abs(to - from) > 7 || !us_pcset_has(m->scale, from) || !us_pcset_has(m->scale, to)) return 0;
    int steps = 0;
    for (int pitch = from < to ? from : to; pitch < (from < to ? to : from); pitch++)
        steps += us_pcset_has(m->scale, pitch);
    return OFF_STEP * abs(abs(b - a) - steps);
}

static double pair_cost(const struct fingering_model *m, int from, int to, int a, int b)
{
    if (from == to) return a == b ? 0 : TWO_FINGERS_ONE_KEY;
    if (a == b) return ONE_FINGER_TWO_KEYS + 0.1 * abs(to - from);
    double cost = span_cost(m, from, to, a, b) + keys_cost(from, to, a, b);
    if ((to > from) == (b > a)) return cost + step_habit(m, from, to, a, b);
    if (a == 1) return cost + pass_cost(m, from, to);
    return cost + (b == 1 ? pass_cost(m, to, from) : CROSS_WITHOUT_THUMB);
}

/* Rules 4, 5 and 7: does the hand have to move between the first and the third note? */
static double triple_cost(const struct fingering_model *m, const int pitch[3], int a, int b, int c)
{
    double cost = 0;
    if (a >= 3 && b >= 3 && c >= 3 && a != b && b != c && a != c) cost += THREE_FOUR_FIVE;
    if (a == c || pitch[0] == pitch[1] || pitch[1] == pitch[2]) return cost;
    double semitones = pitch[2] - pitch[0];
    struct span span = span_of(a, c, &semitones);
    double far = beyond(semitones, span.min_comfortable, span.max_comfortable * m->stretch_factor);
    if (far <= 0) return cost;
    bool between = (pitch[1] > pitch[0]) == (pitch[2] > pitch[1]);
    bool out = beyond(semitones, span.min_practical, span.max_practical * m->stretch_factor) > 0;
    return cost + (b == 1 && between && out ? CHANGE_FULL : CHANGE_HALF) + CHANGE_SIZE * far;
}

/* Rule 6, the first part of rule 10, and the habit of the scale in a stepwise stretch. */
static double single_cost(const struct fingering_model *m, const struct us_note *notes, size_t count,
                          size_t i, int finger)
{
    int pitch = notes[i].pitch;
    double cost = finger >= 4 ? WEAK : 0;
    if (finger == 1 && fingering_is_black(pitch)) cost += THUMB_ON_BLACK;
    int usual = m->scale_fingers[us_pitch_class(pitch)];
    if (!usual || usual == finger) return cost;
    bool home = us_pitch_class(pitch) == m->tonic && fingering_is_black(pitch);
    if (i == 0) return home ? cost + OFF_HOME_FINGER : cost;
    if (i + 1 >= count) return home && abs(pitch - notes[i - 1].pitch) <= 3 ? cost + OFF_HOME_FINGER : cost;
    int before = pitch - notes[i - 1].pitch, after = notes[i + 1].pitch - pitch;
    bool runs = before * after > 0 && abs(before) <= 3 && abs(after) <= 3;
    return runs && us_pcset_has(m->scale, notes[i - 1].pitch) ? cost + OFF_SCALE_FINGER : cost;
}

static bool rest_before(const struct us_note *notes, size_t i)
{
    return notes[i].at - (notes[i - 1].at + notes[i - 1].len) >= 1.0 - 1e-9;
}

double fingering_step_cost(const struct fingering_model *m, const struct us_note *notes, size_t count,
                           size_t i, int a, int b, int c)
{
    double cost = single_cost(m, notes, count, i, c);
    if (i == 0) return cost;
    double near = rest_before(notes, i) ? ACROSS_A_REST : 1;
    cost += near * pair_cost(m, notes[i - 1].pitch, notes[i].pitch, b, c);
    if (i == 1) return cost;
    const int pitch[3] = {notes[i - 2].pitch, notes[i - 1].pitch, notes[i].pitch};
    double far = rest_before(notes, i - 1) ? ACROSS_A_REST * near : near;
    return cost + far * triple_cost(m, pitch, a, b, c);
}
