/* The second voice, measured on written tunes.
   usage: evaluate_voices FOLDER
   Duet, in the written key over the written chords, shares of the sounding time:
     outside   the second voice is no note of the chord; the melody itself, for comparison
     on beats  the same where a note begins on a bar line or half bar
     close     last notes of tunes with a second voice that is a note of the chord
     consonant thirds, sixths, fourths or fifths below the melody
     fifths    steps from one perfect fifth, octave or unison to another in the same direction, of all steps
     crossed   second voices that are not below the melody: notes
     rubs      notes a semitone beside a note of the chord that are none
   Rounds.  What goes together by chance says what a fit is worth: of two different tunes, eight bars each in
   the same key and metre, the share that reaches the fit which round:auto asks for; of made-up rounds, built
   on one circle of chords as rounds are (common practice, no source), the share that is found at its entry.
   Tunes whose name's hash is even and rounds of even number are for setting the threshold, the others for
   judging it. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "corpus.h"
#include "program_words.h"
#include "undersong/round.h"
#include "undersong/second_voice.h"

/* ---- the duet ---- */

struct duet {
    double time, outside, melody_outside, strong_time, strong_outside, consonant;
    size_t notes, steps, fifths, crossed, rubs, closes, good_closes;
};

static bool is_strong(const struct us_tune *tune, double at)
{
    double half = us_metre_half_quarters(tune->metre), halves = (at - tune->pickup) / half;
    return fabs(halves - round(halves)) < 1e-3;
}

static bool perfect(int interval)
{
    return interval % 12 == 7 || interval % 12 == 0;
}

static void judge_step(struct duet *d, int melody, int below, int melody_before, int below_before)
{
    int moved = melody - melody_before, moved_below = below - below_before;
    d->steps++;
    if (!perfect(melody - below) || !perfect(melody_before - below_before)) return;
    d->fifths += moved && moved * moved_below > 0;
}

static void judge_note(struct duet *d, const struct us_note *n, int below, struct us_chord chord, bool strong)
{
    us_pcset tones = us_chord_tones(chord);
    bool outside = !us_pcset_has(tones, below);
    int interval = (n->pitch - below) % 12;
    d->notes++;
    d->time += n->len;
    d->melody_outside += us_pcset_has(tones, n->pitch) ? 0 : n->len;
    d->outside += outside ? n->len : 0;
    d->strong_time += strong ? n->len : 0;
    d->strong_outside += strong && outside ? n->len : 0;
    d->consonant += (interval >= 3 && interval <= 5) || (interval >= 7 && interval <= 9) ? n->len : 0;
    d->crossed += below >= n->pitch;
    d->rubs += outside && (us_pcset_has(tones, below + 1) || us_pcset_has(tones, below - 1));
}

static void judge_duet(struct duet *d, const struct corpus_tune *t, enum us_second_voice kind)
{
    int melody_before = -1, below_before = -1;
    for (size_t i = 0; i < t->tune.note_count; i++) {
        const struct us_note *n = &t->tune.notes[i];
        struct us_chord chord = us_chord_at(t->tune.chords, t->tune.chord_count, n->at);
        bool strong = is_strong(&t->tune, n->at), last = i + 1 == t->tune.note_count;
        if (chord.root == US_NO_CHORD) continue;
        int below = us_duet_below(kind, n->pitch, t->key, chord, strong);
        if (below < 0) continue;
        judge_note(d, n, below, chord, strong);
        if (melody_before >= 0) judge_step(d, n->pitch, below, melody_before, below_before);
        if (last) d->closes++, d->good_closes += us_pcset_has(us_chord_tones(chord), below);
        melody_before = n->pitch;
        below_before = below;
    }
}

static void duets(const struct corpus *corpus, enum us_second_voice kind, const char *name)
{
    struct duet d = {0};
    for (size_t i = 0; i < corpus->count; i++)
        if (corpus->tunes[i].key_sure) judge_duet(&d, &corpus->tunes[i], kind);
    printf("%-6s outside %.3f (melody %.3f), on beats %.3f, close %.3f, consonant %.3f, fifths %.4f, crossed "
           "%zu, "
           "rubs %zu of %zu\n",
           name, d.outside / d.time, d.melody_outside / d.time, d.strong_outside / d.strong_time,
           (double)d.good_closes / (double)d.closes, d.consonant / d.time, (double)d.fifths / (double)d.steps,
           d.crossed, d.rubs, d.notes);
}

/* ---- rounds ---- */

enum { BARS = 8, ROUND_NOTES = 400, ROUNDS = 400, CIRCLE_QUARTERS = 8 };

static unsigned name_hash(const char *name)
{
    unsigned hash = 2166136261u; /* FNV-1a */
    for (; *name; name++)
        hash = (hash ^ (unsigned char)*name) * 16777619u;
    return hash >> 7;
}

static size_t bars_of(const struct corpus_tune *t, double shift, struct us_round_note *out)
{
    double end = BARS * us_metre_bar_quarters(t->tune.metre);
    size_t n = 0;
    for (size_t i = 0; i < t->tune.note_count && n < ROUND_NOTES / 2; i++) {
        double at = t->tune.notes[i].at - t->tune.pickup;
        if (at < -1e-6 || at > end - 1e-6) continue;
        out[n++] = (struct us_round_note){.at = at + shift,
                                          .len = fmin(t->tune.notes[i].len, end - at),
                                          .pitch = (uint8_t)(t->tune.notes[i].pitch - t->key.tonic)};
    }
    return n;
}

/* The threshold must be met by little that goes together by chance. */
static void strangers(const struct corpus *corpus, unsigned half, double fits[], size_t *count, size_t room)
{
    *count = 0;
    for (size_t i = 0; i < corpus->count; i++) {
        const struct corpus_tune *a = &corpus->tunes[i];
        if (!a->grid_sure || !a->key_sure || name_hash(a->id) % 2 != half || *count == room) continue;
        for (size_t k = 1; k <= 12; k++) {
            const struct corpus_tune *b = &corpus->tunes[(i + k * 97) % corpus->count];
            bool alike = b->grid_sure && b->key_sure && b->key.mode == a->key.mode && b->fold != a->fold &&
                         us_metre_equal(b->tune.metre, a->tune.metre);
            if (!alike || name_hash(b->id) % 2 != half || *count == room) continue;
            struct us_round_note notes[ROUND_NOTES];
            double bar = us_metre_bar_quarters(a->tune.metre);
            size_t n = bars_of(a, 0, notes);
            n += bars_of(b, BARS * bar, notes + n);
            fits[(*count)++] = us_round_fit(notes, n, bar, BARS, NULL);
        }
    }
}

static uint32_t state;

static int chance(int below)
{
    state = state * 1664525u + 1013904223u;
    return (int)((uint64_t)(state >> 8) * (uint64_t)below >> 24);
}

/* The pitch of the phrase before at the same place of the circle; -1 in the first phrase. */
static int against(const struct us_round_note *notes, size_t n, double at)
{
    for (size_t i = 0; i < n; i++)
        if (notes[i].at <= at - CIRCLE_QUARTERS + 1e-6 &&
            notes[i].at + notes[i].len > at - CIRCLE_QUARTERS + 1e-6)
            return notes[i].pitch;
    return -1;
}

static bool goes_with(int pitch, int other)
{
    static const bool CONSONANT[12] = {
        [0] = true, [3] = true, [4] = true, [7] = true, [8] = true, [9] = true};
    return other < 0 || CONSONANT[abs(pitch - other) % 12];
}

/* A pitch of the set near the last one, tried a few times for one that goes with the phrase before. */
static int compose(int last, us_pcset allowed, int other)
{
    int pitch = last;
    for (int tries = 0; tries < 6; tries++) {
        pitch = last + chance(9) - 4;
        pitch = pitch < 57 ? pitch + 7 : pitch > 79 ? pitch - 7 : pitch;
        while (!us_pcset_has(allowed, pitch))
            pitch++;
        if (goes_with(pitch, other)) break;
    }
    return pitch;
}

/* Four phrases over one circle of two bars, a chord a half bar: a note of the chord on each half bar, mostly
   one of the scale between, each phrase written to go with the one before. */
static size_t make_round(uint32_t seed, struct us_round_note *out)
{
    static const int8_t CIRCLES[4][4] = {{0, 7, 7, 0}, {0, 5, 7, 0}, {0, 0, 7, 0}, {0, 5, 0, 7}};
    state = seed * 2654435761u;
    const int8_t *circle = CIRCLES[chance(4)];
    us_pcset scale = us_key_scale((struct us_key){0, US_MODE_MAJOR});
    size_t n = 0;
    int pitch = 60 + 4 * chance(4);
    for (int half = 0; half < 4 * 4; half++) {
        double at = half * 2.0;
        bool moves = chance(3) > 0 && half % 4 != 3;
        pitch = compose(pitch, us_chord_tones((struct us_chord){circle[half % 4], US_CHORD_MAJ}),
                        against(out, n, at));
        out[n++] = (struct us_round_note){at, moves ? 1 : 2, (uint8_t)pitch, 80, false};
        if (!moves) continue;
        pitch = compose(pitch, scale, against(out, n, at + 1));
        out[n++] = (struct us_round_note){at + 1, 1, (uint8_t)pitch, 80, false};
    }
    return n;
}

static int order(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

static void rounds(const struct corpus *corpus, unsigned half)
{
    enum { ROOM = 8000 };
    static double fits[ROOM], own[ROUNDS];
    size_t count, pass = 0, found = 0, made = 0, itself = 0, tunes = 0;
    struct us_round_note notes[ROUND_NOTES];
    strangers(corpus, half, fits, &count, ROOM);
    for (size_t i = 0; i < count; i++)
        pass += fits[i] >= US_ROUND_FITS;
    qsort(fits, count, sizeof *fits, order);
    for (uint32_t seed = half; seed < ROUNDS; seed += 2) {
        size_t n = make_round(seed, notes);
        own[made++] = us_round_fit(notes, n, 4, 2, NULL);
        found += us_round_entry(notes, n, 4, NULL) == 2;
    }
    qsort(own, made, sizeof *own, order);
    for (size_t i = 0; i < corpus->count; i++) {
        const struct corpus_tune *t = &corpus->tunes[i];
        if (!t->grid_sure || name_hash(t->id) % 2 != half) continue;
        size_t n = bars_of(t, 0, notes);
        tunes++;
        itself += us_round_entry(notes, n, us_metre_bar_quarters(t->tune.metre), NULL) > 0;
    }
    printf("rounds, half %u: strangers %zu, fit median %.3f, 95 %% %.3f, 99 %% %.3f, reach %.2f: %.4f; "
           "made-up rounds "
           "%zu, fit 1 %% %.3f, 5 %% %.3f, median %.3f, entry found %.3f; tunes %zu, with an entry %.3f\n",
           half, count, fits[count / 2], fits[count * 95 / 100], fits[count * 99 / 100], US_ROUND_FITS,
           (double)pass / (double)count, made, own[made / 100], own[made / 20], own[made / 2],
           (double)found / (double)made, tunes, (double)itself / (double)tunes);
}

int main(int argc, char **argv)
{
    const char *folder;
    const struct word WORDS[] = {{"FOLDER", WORD_TEXT, .to = &folder}};
    struct corpus corpus;
    int status = words_begin("evaluate_voices", WORDS, 1, argc, argv, &corpus);
    if (status) return status;
    duets(&corpus, US_SECOND_THIRD, "third");
    duets(&corpus, US_SECOND_SIXTH, "sixth");
    rounds(&corpus, 0);
    rounds(&corpus, 1);
    corpus_finish(&corpus);
    return 0;
}
