#include "voicing.h"

#include <stdlib.h>
#include <string.h>

/* Lowest lower note of an interval of 0 to 11 semitones that does not growl.  Thirds to sevenths: the higher
   of two orchestration tables, and no third below C3; seconds from memory. */
static const uint8_t LOW_LIMIT[12] = {0, 52, 51, 49, 48, 45, 35, 37, 41, 41, 41, 41};

/* In which order a chord is thinned: the fifth goes first, then the seventh, then all but the root; without a
   root (it would clash, or is a leading note that the melody has) the third leads. */
enum { R = 1 << TONE_ROOT, T = 1 << TONE_THIRD, F = 1 << TONE_FIFTH, S = 1 << TONE_SEVENTH };
static const uint8_t THINNING[] = {R | T | F | S, R | T | S, R | T | F, R | F | S, R | T, R | F, R | S, R,
                                   T | F | S,     T | S,     T | F,     T,         F | S, F,     S};

void voicing_tones(struct us_chord chord, int8_t tone[TONES])
{
    static const int8_t ABOVE[US_CHORD_KINDS][TONES] = {
        [US_CHORD_MAJ] = {0, 4, 7, NO_TONE}, [US_CHORD_MIN] = {0, 3, 7, NO_TONE},
        [US_CHORD_DIM] = {0, 3, 6, NO_TONE}, [US_CHORD_DOM7] = {0, 4, 7, 10},
        [US_CHORD_MIN7] = {0, 3, 7, 10},
    };
    for (int i = 0; i < TONES; i++) {
        int above = ABOVE[chord.kind][i];
        tone[i] = chord.root == US_NO_CHORD || above == NO_TONE ? NO_TONE
                                                                : (int8_t)us_pitch_class(chord.root + above);
    }
}

static void forbid_under(struct us_chord chord, struct us_key key, int voice, int8_t tone[TONES])
{
    int sounding = us_pitch_class(voice);
    for (int i = 0; i < TONES; i++) {
        if (tone[i] == NO_TONE) continue;
        bool leading = key.tonic != US_NO_KEY && us_pitch_class(tone[i] + 1) == key.tonic;
        bool tense = chord.kind == US_CHORD_DOM7 && (i == TONE_THIRD || i == TONE_SEVENTH);
        /* A note above a tone of the chord grinds; so does a lowered third or fifth against the chord's own.
         */
        bool lowered = sounding == us_pitch_class(tone[i] - 1) &&
                       (chord.kind == US_CHORD_MAJ || chord.kind == US_CHORD_DOM7) &&
                       (i == TONE_THIRD || i == TONE_FIFTH);
        bool clash = lowered || sounding == us_pitch_class(tone[i] + 1);
        if (clash || (sounding == tone[i] && (leading || tense))) tone[i] = NO_TONE;
    }
}

void voicing_forbid(struct us_chord chord, const struct us_voicing_context *context, int8_t tone[TONES])
{
    if (context->melody >= 0) forbid_under(chord, context->key, context->melody, tone);
    if (context->second > 0) forbid_under(chord, context->key, context->second, tone);
}

int voicing_ceiling(const struct us_voicing_context *context)
{
    int ceiling = context->highest;
    if (context->melody >= 0 && context->melody - 1 < ceiling) ceiling = context->melody - 1;
    if (context->second > 0 && context->second - 1 < ceiling) ceiling = context->second - 1;
    return ceiling;
}

static int span(const struct us_voicing *v)
{
    return v->pitch[v->count - 1] - v->pitch[0];
}

static bool is_low_enough_to_growl(const struct us_voicing *v, int first)
{
    for (int i = first; i < v->count; i++)
        for (int j = i + 1; j < v->count; j++) {
            int interval = v->pitch[j] - v->pitch[i];
            if (interval < 12 && v->pitch[i] < LOW_LIMIT[interval]) return true;
        }
    return false;
}

static bool is_legal(const struct voicing_request *request, uint8_t mask, const struct us_voicing *v)
{
    if (span(v) > US_LEFT_SPAN || is_low_enough_to_growl(v, request->bass_apart ? 1 : 0)) return false;
    bool complete = (mask & (R | T | F)) == (R | T | F);
    if (complete && !request->root_lowest) return true;
    int lowest = 0;
    while (!(mask & 1 << lowest))
        lowest++;
    return us_pitch_class(v->pitch[0]) == request->tone[lowest];
}

/* Semitones that the voices move; a hand with more or fewer notes goes to the nearest of the old ones. */
static int motion(const struct us_voicing *before, const struct us_voicing *v)
{
    int sum = 0;
    for (int i = 0; i < v->count && before->count; i++) {
        int least = abs(v->pitch[i] - before->pitch[i < before->count ? i : 0]);
        for (int j = 0; j < before->count && before->count != v->count; j++)
            if (abs(v->pitch[i] - before->pitch[j]) < least) least = abs(v->pitch[i] - before->pitch[j]);
        sum += least;
    }
    return sum;
}

static bool is_parallel(const struct us_voicing_context *context, const struct us_voicing *v)
{
    if (context->melody < 0 || context->melody_before <= 0 || !context->before.count) return false;
    int was = us_pitch_class(context->melody_before - context->before.pitch[0]);
    int is = us_pitch_class(context->melody - v->pitch[0]);
    bool moved = context->melody != context->melody_before && v->pitch[0] != context->before.pitch[0];
    return moved && was == is && (is == 0 || is == 7);
}

/* The leading note was in the hand and the chord is one on the tonic, but its neighbour is not taken. */
static bool is_unresolved(const struct us_voicing_context *context, int root, const struct us_voicing *v)
{
    if (context->key.tonic == US_NO_KEY || root != context->key.tonic) return false;
    for (int i = 0; i < context->before.count; i++) {
        int target = context->before.pitch[i] + 1;
        if (us_pitch_class(target) != root) continue;
        for (int j = 0; j < v->count; j++)
            if (v->pitch[j] == target) return false;
        return true;
    }
    return false;
}

static int outside(const struct voicing_request *request, const struct us_voicing *v)
{
    int sum = 0;
    for (int i = 0; i < v->count; i++) {
        if (v->pitch[i] < request->low) sum += request->low - v->pitch[i];
        if (v->pitch[i] > request->high) sum += v->pitch[i] - request->high;
    }
    return sum;
}

/* Tie-breaker: near the middle of the register, in root position or at least not with the fifth lowest. */
static int unrest(const struct voicing_request *request, const struct us_voicing *v)
{
    int sum = 0, lowest = us_pitch_class(v->pitch[0]);
    for (int i = 0; i < v->count; i++)
        sum += v->pitch[i];
    int position = lowest == request->tone[TONE_ROOT] ? 0 : lowest == request->tone[TONE_THIRD] ? 8 : 12;
    return 2 * outside(request, v) + abs(sum / v->count - (request->low + request->high) / 2) + position;
}

static long cost(const struct voicing_request *request, const struct us_voicing_context *context,
                 const struct us_voicing *v)
{
    int moved = motion(&context->before, v);
    if (!request->close) return outside(request, v) * 10000L + moved * 100L + unrest(request, v);
    bool wide = span(v) >= 12;
    bool unresolved = is_unresolved(context, request->tone[TONE_ROOT], v);
    return wide * 100000000L + unresolved * 10000000L + is_parallel(context, v) * 1000000L + moved * 1000L +
           unrest(request, v);
}

struct search {
    const struct voicing_request *request;
    const struct us_voicing_context *context;
    int ceiling;
    uint8_t mask;
    struct us_voicing best;
    long best_cost;
};

static struct us_voicing with(struct us_voicing v, int pitch)
{
    int place = v.count++;
    for (; place > 0 && v.pitch[place - 1] > pitch; place--)
        v.pitch[place] = v.pitch[place - 1];
    v.pitch[place] = (uint8_t)pitch;
    return v;
}

static void try_tones(struct search *s, int tone, struct us_voicing v)
{
    while (tone < TONES && !(s->mask & 1 << tone))
        tone++;
    if (tone == TONES) {
        if (!is_legal(s->request, s->mask, &v)) return;
        long c = cost(s->request, s->context, &v);
        if (s->best.count && c >= s->best_cost) return;
        s->best = v;
        s->best_cost = c;
        return;
    }
    int first =
        s->context->lowest + us_pitch_class(s->request->tone[tone] - us_pitch_class(s->context->lowest));
    for (int pitch = first; pitch <= s->ceiling; pitch += 12) {
        if (v.count && pitch > v.pitch[0] + US_LEFT_SPAN) break;
        if (!v.count || pitch >= v.pitch[v.count - 1] - US_LEFT_SPAN) try_tones(s, tone + 1, with(v, pitch));
    }
}

struct us_voicing voicing_find(const struct voicing_request *request,
                               const struct us_voicing_context *context)
{
    struct search s = {.request = request, .context = context, .ceiling = voicing_ceiling(context)};
    uint8_t wanted = 0;
    for (int i = 0; i < TONES; i++)
        if (request->tone[i] != NO_TONE) wanted |= (uint8_t)(1 << i);
    for (size_t i = 0; i < sizeof THINNING && !s.best.count; i++) {
        s.mask = THINNING[i];
        if (!(s.mask & ~wanted)) try_tones(&s, 0, (struct us_voicing){0});
    }
    return s.best;
}
