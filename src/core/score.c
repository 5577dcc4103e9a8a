#include "undersong/score.h"

#include <math.h>
#include <string.h>

/* Probabilities of what a player does between one note and the next; common practice, no source: set by hand,
   checked on played-in mistakes by tests/check_score.c. */
static const float GO_ON = 0.90f, STAY = 0.03f, SKIP_ONE = 0.03f, SKIP_TWO = 0.01f;
/* To an entry: the start of a bar or phrase. */
static const float RESTART = 0.02f, RESTART_AFTER_PAUSE = 0.08f, PAUSED = 0.4f;
static const float TO_THE_START = 0.25f, TO_JUST_BEFORE = 0.35f, ANYWHERE = 0.0002f;
/* In a loop: from its end to its start rather than on, and to its start from anywhere. */
static const float LOOP_BACK = 0.9f, LOOP_RESTART = 0.02f;
/* How likely a key that is struck is the right one, a neighbour, or any other. */
static const float RIGHT = 0.93f, NEIGHBOUR = 0.02f, WRONG = 0.003f;
/* A player who changed key starts again at an entry, next to never in the middle, and mostly at the start. In
   lessons that is common. */
static const float NEW_KEY = 0.15f, NEW_KEY_AT_START = 0.03f;
/* How well an unknown tune would be foretold: about one note in six, the time of it in two of three. */
static const float UNKNOWN_TUNE = 0.11f;
static const float TRUST_MOST = 6, TRUST_LEAST = -4;
/* A note that is not written: an ornament when it comes at once after or before another, else a slip. */
static const float ADDED = 0.02f, ADDED_AT_ONCE = 0.45f, ANY_PITCH = 0.06f;
static const int64_t AT_ONCE_NS = 100000000;
/* The places are kept from FRONT on, so that the three places before the first exist. */
enum { FRONT = 4, JUST_BEFORE = 3 };

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
    f->scale = 1;
    f->new_key = NEW_KEY;
    f->new_key_at_start = NEW_KEY_AT_START;
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

/* What is the same for all transpositions at a note. */
struct step {
    uint8_t apart[US_SCORE_NOTES_MAX]; /* semitones up from each place to the note, round the octave */
    float fit[US_SCORE_NOTES_MAX];     /* how well the time since the last note fits the written gap */
    float fresh[US_SCORE_NOTES_MAX];   /* how probably the player starts again there, or has got there */
    float added;
};

/* 1 for a perfect fit, never below a third, since beginners wait. */
static void weigh_gaps(const struct us_score_follower *f, float log_gap, float *fit)
{
    const struct us_score *s = f->score;
    for (int i = 0; i < s->count; i++) {
        float off = log_gap - s->log_gap[i];
        fit[i] = 0.33f + 0.67f / (1 + 6 * off * off);
    }
}

/* Whoever goes back does so to a bar line just before, to the start, or to any other entry; most of all after
   a pause. */
static void weigh_entries(const struct us_score_follower *f, bool paused, float *fresh)
{
    const struct us_score *s = f->score;
    float restart = paused ? RESTART_AFTER_PAUSE : RESTART, each;
    int entries = 1, just_before[JUST_BEFORE], found = 0;
    for (int i = 0; i < s->count; i++)
        entries += s->entry[i];
    each = restart * (1 - TO_THE_START - TO_JUST_BEFORE) / (float)entries;
    for (int i = 0; i < s->count; i++)
        fresh[i] = s->entry[i] ? each : ANYWHERE / (float)s->count;
    fresh[0] += restart * TO_THE_START;
    if (f->loop_last) fresh[f->loop_first] += LOOP_RESTART;
    for (int i = f->place; i >= 0 && found < JUST_BEFORE; i--)
        if (s->entry[i]) just_before[found++] = i;
    for (int i = 0; i < found; i++)
        fresh[just_before[i]] += restart * TO_JUST_BEFORE / (float)found;
}

static void prepare(const struct us_score_follower *f, int64_t at_ns, int pitch, struct step *step)
{
    const struct us_score *s = f->score;
    double gap = (double)(at_ns - f->last_ns);
    bool known = f->log_quarter_ns > 0 && gap > 1e6;
    float log_gap = known ? (float)log(gap) - f->log_quarter_ns : 0;
    for (int i = 0; i < s->count; i++) {
        step->apart[i] = (uint8_t)us_pitch_class(pitch - s->pitch[i]);
        step->fit[i] = 1;
    }
    if (known) weigh_gaps(f, log_gap, step->fit);
    bool paused = known && f->place + 1 < s->count && log_gap > s->log_gap[f->place + 1] + PAUSED;
    weigh_entries(f, paused, step->fresh);
    step->added = at_ns - f->last_ns < AT_ONCE_NS ? ADDED_AT_ONCE : ADDED;
}

static void first_note(struct us_score_follower *f, int pitch)
{
    const struct us_score *s = f->score;
    for (int i = 0; i < s->count; i++) {
        int t = us_pitch_class(pitch - s->pitch[i]);
        float weight = i == f->loop_first ? 1 : s->entry[i] ? 0.01f : 0.0005f;
        f->weight[t][FRONT + i] += weight;
        f->mass[t] += weight;
    }
}

/* From the end of a loop to its start rather than on. */
static void go_round(const struct us_score_follower *f, const float *weight, const struct step *step,
                     const float *struck, float *next)
{
    int first = f->loop_first, after = f->loop_last + 1;
    float back = LOOP_BACK * weight[FRONT + f->loop_last] * (1 - step->added) * f->scale;
    next[first] += back * struck[step->apart[first]];
    if (after < f->score->count) next[after] -= back * GO_ON * step->fit[after] * struck[step->apart[after]];
}

/* One transposition's probabilities go one note on; `here` is what may start again in it,
   `afresh` what comes to it from other keys to the start.  Returns their sum. */
static float advance(const struct us_score_follower *f, float *restrict weight, const struct step *step,
                     const float *struck, float here, float afresh)
{
    float next[US_SCORE_NOTES_MAX], sum[4] = {0}, played = (1 - step->added) * f->scale,
                                    added = step->added * ANY_PITCH * f->scale;
    int count = f->score->count;
    for (int i = 0; i < count; i++)
        next[i] = played * struck[step->apart[i]];
    for (int i = 0; i < count; i++) {
        const float *w = weight + FRONT + i;
        float come = step->fit[i] * (GO_ON * w[-1] + SKIP_ONE * w[-2] + SKIP_TWO * w[-3]) + STAY * w[0];
        next[i] = next[i] * (come + here * step->fresh[i]) + added * w[0];
    }
    next[f->loop_first] += played * struck[step->apart[f->loop_first]] * afresh;
    if (f->loop_last) go_round(f, weight, step, struck, next);
    for (int i = count; i % 4; i++)
        next[i] = 0;
    for (int i = 0; i < count; i += 4)
        for (int k = 0; k < 4; k++)
            sum[k] += next[i + k];
    memcpy(weight + FRONT, next, (size_t)count * sizeof *next);
    return sum[0] + sum[1] + sum[2] + sum[3];
}

/* By distance in semitones, round the octave; twice, so that a transposition is a place to begin. */
static void set_struck(float struck[2 * US_PITCH_CLASSES])
{
    for (int i = 0; i < 2 * US_PITCH_CLASSES; i++) {
        int d = i % US_PITCH_CLASSES;
        struck[i] = d == 0 ? RIGHT : d <= 2 || d >= 10 ? NEIGHBOUR : WRONG;
    }
}

/* All transpositions go one note on; returns how well the note was foretold. */
static float hear(struct us_score_follower *f, int64_t at_ns, int pitch)
{
    struct step step;
    float struck[2 * US_PITCH_CLASSES], foretold = 1e-6f;
    set_struck(struck);
    prepare(f, at_ns, pitch, &step);
    for (int t = 0; t < US_PITCH_CLASSES; t++) {
        float here = f->mass[t] * (1 - f->new_key) + f->new_key / US_PITCH_CLASSES;
        f->mass[t] = advance(f, f->weight[t], &step, struck + (US_PITCH_CLASSES - t) % US_PITCH_CLASSES,
                             here / f->scale, f->new_key_at_start / US_PITCH_CLASSES / f->scale);
        foretold += f->mass[t];
    }
    return foretold;
}

/* Probability is shared out anew, and the best place is found. */
static void settle(struct us_score_follower *f)
{
    const struct us_score *s = f->score;
    float total = 1e-30f, best = -1;
    for (int t = 0; t < US_PITCH_CLASSES; t++)
        total += f->mass[t];
    f->scale = 1 / total;
    for (int t = 0; t < US_PITCH_CLASSES; t++) {
        const float *w = f->weight[t] + FRONT;
        for (int i = 0; i < s->count && f->mass[t] > best; i++) {
            if (w[i] <= best) continue;
            best = w[i];
            f->place = (int16_t)i;
            f->transposition = (int8_t)t;
        }
        f->mass[t] *= f->scale;
    }
    f->sure = best * f->scale;
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
    int16_t before = f->place;
    if (f->heard++ == 0)
        first_note(f, pitch);
    else
        f->trust =
            fminf(TRUST_MOST, fmaxf(TRUST_LEAST, f->trust + logf(hear(f, at_ns, pitch) / UNKNOWN_TUNE)));
    settle(f);
    learn_tempo(f, before, at_ns);
    f->last_ns = at_ns;
}

void us_score_forget_before(struct us_score_follower *f, int count)
{
    for (int t = 0; t < US_PITCH_CLASSES; t++) {
        float *weight = f->weight[t] + FRONT;
        memmove(weight, weight + count, (size_t)(US_SCORE_NOTES_MAX - count) * sizeof *weight);
        memset(weight + US_SCORE_NOTES_MAX - count, 0, (size_t)count * sizeof *weight);
    }
    f->place = f->place >= count ? (int16_t)(f->place - count) : -1;
}

void us_score_forget_after(struct us_score_follower *f, int count)
{
    for (int t = 0; t < US_PITCH_CLASSES; t++)
        memset(f->weight[t] + FRONT + count, 0, (size_t)(US_SCORE_NOTES_MAX - count) * sizeof **f->weight);
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
