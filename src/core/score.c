#include "score_step.h"

#include <math.h>
#include <string.h>

/* A player who changed key starts again at an entry, next to never in the middle, and mostly at the start. In
   lessons that is common.  Common practice, no source. */
static const float NEW_KEY = 0.15f, NEW_KEY_AT_START = 0.03f;
/* How well an unknown tune would be foretold: about one note in six, the time of it in two of three. */
static const float UNKNOWN_TUNE = 0.11f;
static const float TRUST_MOST = 6, TRUST_LEAST = -4;

bool us_score_init(struct us_score *score, const struct us_tune *tune)
{
    memset(score, 0, sizeof *score);
    score->tune = *tune;
    score->tune.pickup = fmax(tune->pickup, 0);
    size_t count = tune->note_count < US_SCORE_NOTES_MAX ? tune->note_count : US_SCORE_NOTES_MAX;
    double bar = us_metre_bar_quarters(tune->metre);
    int32_t last_bar = -2;
    for (size_t i = 0; i < count; i++) {
        const struct us_note *n = &tune->notes[i];
        int32_t in_bar = (int32_t)floor((n->at - score->tune.pickup + 1e-3) / bar);
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
    *score_weight(f, transposition, place) = f->mass[transposition] = f->sure = 1;
    f->place = (int16_t)place;
    f->transposition = (int8_t)transposition;
    f->last_ns = at_ns;
    f->heard = (uint32_t)place + 1;
    if (gap_ns > 0) f->log_quarter_ns = (float)log((double)gap_ns) - score->log_gap[place];
}

static void first_note(struct us_score_follower *f, int pitch)
{
    const struct us_score *s = f->score;
    for (int i = 0; i < s->count; i++) {
        int t = us_pitch_class(pitch - s->pitch[i]);
        float weight = i == f->loop_first ? 1 : s->entry[i] ? 0.01f : 0.0005f;
        *score_weight(f, t, i) += weight;
        f->mass[t] += weight;
        f->most[t] = fmaxf(f->most[t], weight);
    }
}

/* Probability is shared out anew, and the best place is found. */
static void settle(struct us_score_follower *f)
{
    float total = 1e-30f, best = -1;
    for (int t = 0; t < US_PITCH_CLASSES; t++)
        total += f->mass[t];
    f->scale = 1 / total;
    for (int t = 0; t < US_PITCH_CLASSES; t++) {
        f->mass[t] *= f->scale;
        if (f->most[t] <= best) continue;
        best = f->most[t];
        f->transposition = (int8_t)t;
    }
    f->place = 0;
    for (const float *w = score_weight(f, f->transposition, 0); *w < best; w += SCORE_LANES)
        f->place++;
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
        f->trust = fminf(TRUST_MOST,
                         fmaxf(TRUST_LEAST, f->trust + logf(score_hear(f, at_ns, pitch) / UNKNOWN_TUNE)));
    settle(f);
    learn_tempo(f, before, at_ns);
    f->last_ns = at_ns;
}

void us_score_forget_before(struct us_score_follower *f, int count)
{
    for (int g = 0; g < SCORE_GROUPS; g++)
        memmove(f->weight[g][SCORE_FRONT], f->weight[g][SCORE_FRONT + count],
                (size_t)(US_SCORE_NOTES_MAX - count) * sizeof f->weight[g][0]);
    us_score_forget_after(f, US_SCORE_NOTES_MAX - count);
    f->place = f->place >= count ? (int16_t)(f->place - count) : -1;
}

void us_score_forget_after(struct us_score_follower *f, int count)
{
    for (int g = 0; g < SCORE_GROUPS; g++)
        memset(f->weight[g][SCORE_FRONT + count], 0,
               (size_t)(US_SCORE_NOTES_MAX - count) * sizeof f->weight[g][0]);
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
