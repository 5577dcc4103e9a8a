#include "undersong/score.h"

#include <math.h>
#include <string.h>

/* Probabilities of what a player does between one note and the next; common practice, no source: set by hand,
   checked on played-in mistakes by tests/check_score.c. */
static const float GO_ON = 0.90f, STAY = 0.03f, SKIP_ONE = 0.03f, SKIP_TWO = 0.01f;
static const float RESTART = 0.02f; /* to an entry: the start of a bar or phrase */
static const float ANYWHERE = 0.0002f;
/* In a loop: from its end to its start rather than on, and to its start from anywhere. */
static const float LOOP_BACK = 0.9f, LOOP_RESTART = 0.02f;
/* How likely a key that is struck is the right one, a neighbour, or any other. */
static const float RIGHT = 0.93f, NEIGHBOUR = 0.02f, WRONG = 0.003f;
/* A player who changed key starts again at an entry: next to never in the middle. */
static const float NEW_KEY = 0.01f;
/* How well an unknown tune would be foretold: about one note in six, the time of it in two of three. */
static const float UNKNOWN_TUNE = 0.11f;
static const float TRUST_MOST = 6, TRUST_LEAST = -4;
/* A note that is not written: an ornament when it comes at once after or before another, else a slip. */
static const float ADDED = 0.02f, ADDED_AT_ONCE = 0.45f, ANY_PITCH = 0.06f;
static const int64_t AT_ONCE_NS = 100000000;
/* The places are kept from FRONT on, so that the three places before the first exist. */
enum { FRONT = 4 };

bool us_score_init(struct us_score *score, const struct us_tune *tune)
{
    memset(score, 0, sizeof *score);
    score->tune = *tune;
    size_t count = tune->note_count < US_SCORE_NOTES_MAX ? tune->note_count : US_SCORE_NOTES_MAX;
    double bar = us_metre_bar_quarters(tune->metre);
    int32_t last_bar = -2;
    for (size_t i = 0; i < count; i++) {
        const struct us_note *n = &tune->notes[i];
        int32_t in_bar = (int32_t)floor((n->at - tune->pickup + 1e-3) / bar);
        bool after_rest = i && n->at > n[-1].at + n[-1].len + 0.4;
        bool after_long = i && n->at - n[-1].at >= bar * 0.5;
        score->pitch[i] = (int8_t)n->pitch;
        score->at[i] = (float)n->at;
        score->log_gap[i] = i && n->at > n[-1].at ? (float)log(n->at - n[-1].at) : 0;
        score->entry[i] = i == 0 || in_bar != last_bar || after_rest || after_long;
        last_bar = in_bar;
    }
    score->count = (uint16_t)count;
    return count >= 2;
}

void us_score_follow(struct us_score_follower *f, const struct us_score *score, float trust)
{
    memset(f, 0, sizeof *f);
    f->score = score;
    f->place = -1;
    f->trust = trust;
}

void us_score_loop(struct us_score_follower *f, int first, int last)
{
    f->loop_first = (uint16_t)first;
    f->loop_last = (uint16_t)last;
}

void us_score_follow_from(struct us_score_follower *f, const struct us_score *score, float trust, int place,
                          int transposition, int64_t at_ns, int64_t gap_ns)
{
    us_score_follow(f, score, trust);
    if (place < 0 || place >= score->count) return;
    f->weight[transposition][FRONT + place] = f->mass[transposition] = f->sure = 1;
    f->place = (int16_t)place;
    f->transposition = (int8_t)transposition;
    f->last_ns = at_ns;
    f->heard = (uint32_t)place + 1;
    if (gap_ns > 0) f->log_quarter_ns = (float)log((double)gap_ns) - score->log_gap[place];
}

/* How well the time since the last note fits the written gap before each place: 1 for a perfect fit, never
   below a third, since beginners wait. */
static void weigh_gaps(const struct us_score_follower *f, int64_t at_ns, float *fit)
{
    const struct us_score *s = f->score;
    double gap = (double)(at_ns - f->last_ns);
    bool known = f->log_quarter_ns > 0 && gap > 1e6;
    float log_gap = known ? (float)log(gap) - f->log_quarter_ns : 0;
    for (int i = 0; i < s->count; i++) {
        float off = log_gap - s->log_gap[i];
        fit[i] = known ? 0.33f + 0.67f / (1 + 6 * off * off) : 1;
    }
}

static void first_note(struct us_score_follower *f, int pitch)
{
    const struct us_score *s = f->score;
    for (int i = 0; i < s->count; i++) {
        int t = us_pitch_class(pitch - s->pitch[i]);
        f->weight[t][FRONT + i] += i == f->loop_first ? 1 : s->entry[i] ? 0.01f : 0.0005f;
    }
}

/* How likely each way is that is not the next note. */
struct ways {
    float restart, anywhere; /* to each entry, to any note */
    float loop;              /* to the loop's start */
    int loop_first, loop_last;
};

/* One transposition's probabilities go one note on. */
static float advance(float *weight, const struct us_score *s, const float *fit, const float *emission,
                     const struct ways *ways, float added)
{
    float sum = 0, next[US_SCORE_NOTES_MAX];
    for (int i = 0; i < s->count; i++) {
        const float *w = weight + FRONT + i;
        float come = fit[i] * (GO_ON * w[-1] + SKIP_ONE * w[-2] + SKIP_TWO * w[-3]) + STAY * w[0];
        float fresh = s->entry[i] ? ways->restart : ways->anywhere;
        next[i] = (1 - added) * (come + fresh) * emission[i] + added * ANY_PITCH * w[0];
    }
    if (ways->loop_last) {
        int first = ways->loop_first, after = ways->loop_last + 1;
        float back = LOOP_BACK * weight[FRONT + ways->loop_last];
        next[first] += (1 - added) * emission[first] * (ways->loop + back);
        if (after < s->count) next[after] -= (1 - added) * emission[after] * fit[after] * GO_ON * back;
    }
    for (int i = 0; i < s->count; i++)
        sum += next[i];
    memcpy(weight + FRONT, next, s->count * sizeof *next);
    return sum;
}

static void emissions(const struct us_score *s, int pitch, int transposition, float *emission)
{
    /* By distance in semitones, round the octave. */
    static const float BY_DISTANCE[US_PITCH_CLASSES] = {
        RIGHT, NEIGHBOUR, NEIGHBOUR, WRONG, WRONG, WRONG, WRONG, WRONG, WRONG, WRONG, NEIGHBOUR, NEIGHBOUR};
    for (int i = 0; i < s->count; i++)
        emission[i] = BY_DISTANCE[us_pitch_class(pitch - s->pitch[i] - transposition)];
}

/* Probability is shared out anew, and the best place is found. */
static void settle(struct us_score_follower *f)
{
    const struct us_score *s = f->score;
    float total = 1e-30f, best = -1;
    for (int t = 0; t < US_PITCH_CLASSES; t++)
        total += f->mass[t];
    for (int t = 0; t < US_PITCH_CLASSES; t++) {
        f->mass[t] /= total;
        for (int i = 0; i < s->count; i++) {
            float *w = &f->weight[t][FRONT + i];
            *w /= total;
            if (*w <= best) continue;
            best = *w;
            f->place = (int16_t)i;
            f->transposition = (int8_t)t;
        }
    }
    f->sure = best;
}

static void learn_tempo(struct us_score_follower *f, int16_t before, int64_t at_ns)
{
    if (f->place != before + 1 || before < 0 || at_ns <= f->last_ns) return;
    float seen = (float)log((double)(at_ns - f->last_ns)) - f->score->log_gap[f->place];
    if (f->log_quarter_ns <= 0) f->log_quarter_ns = seen;
    float off = seen - f->log_quarter_ns;
    if (off > 0.6f) off = 0.1f; /* a hesitation says little about the tempo */
    f->log_quarter_ns += off * 0.25f;
}

void us_score_note(struct us_score_follower *f, int64_t at_ns, int pitch)
{
    const struct us_score *s = f->score;
    int16_t before = f->place;
    if (f->heard++ == 0) {
        first_note(f, pitch);
        for (int t = 0; t < US_PITCH_CLASSES; t++)
            for (int i = 0; i < s->count; i++)
                f->mass[t] += f->weight[t][FRONT + i];
    } else {
        float fit[US_SCORE_NOTES_MAX], emission[US_SCORE_NOTES_MAX];
        float foretold = 1e-6f;
        int entries = 1;
        for (int i = 0; i < s->count; i++)
            entries += s->entry[i];
        float added = at_ns - f->last_ns < AT_ONCE_NS ? ADDED_AT_ONCE : ADDED;
        weigh_gaps(f, at_ns, fit);
        for (int t = 0; t < US_PITCH_CLASSES; t++) {
            float here = f->mass[t] * (1 - NEW_KEY) + NEW_KEY / US_PITCH_CLASSES;
            emissions(s, pitch, t, emission);
            struct ways ways = {RESTART * here / (float)entries, ANYWHERE * here / (float)s->count,
                                LOOP_RESTART * here, f->loop_first, f->loop_last};
            f->mass[t] = advance(f->weight[t], s, fit, emission, &ways, added);
            foretold += f->mass[t];
        }
        f->trust = fminf(TRUST_MOST, fmaxf(TRUST_LEAST, f->trust + logf(foretold / UNKNOWN_TUNE)));
    }
    settle(f);
    learn_tempo(f, before, at_ns);
    f->last_ns = at_ns;
}

struct us_chord us_score_chord(const struct us_score_follower *f, double quarters)
{
    const struct us_tune *tune = &f->score->tune;
    size_t low = 0, high = tune->chord_count;
    while (low < high) {
        size_t middle = (low + high) / 2;
        if (tune->chords[middle].at <= quarters + 0.02)
            low = middle + 1;
        else
            high = middle;
    }
    struct us_chord none = {US_NO_CHORD, US_CHORD_MAJ};
    if (!low || tune->chords[low - 1].chord.root == US_NO_CHORD) return none;
    const struct us_chord_span *span = &tune->chords[low - 1];
    if (quarters >= span->at + span->len + 0.02) return none;
    return (struct us_chord){(int8_t)us_pitch_class(span->chord.root + f->transposition), span->chord.kind};
}

struct us_key us_score_key(const struct us_score_follower *f)
{
    struct us_key key = f->score->tune.key;
    if (key.tonic != US_NO_KEY) key.tonic = (int8_t)us_pitch_class(key.tonic + f->transposition);
    return key;
}
