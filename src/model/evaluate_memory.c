/* Whether a strain heard once is known the second time: simulated learners play the first eight bars of a
   tune and begin them again, with the metre given and the tune unknown.

   usage: evaluate_memory FOLDER [LIMIT [FOLDS]]

   Printed, for each way to begin again, is the share of the time (from 50 ms after each beat to the next, the
   first bar left out) in which the left hand has the role of the written chord, the first time and the
   second; then, where the strain is begun again in another key, how often that key is known at the third
   note, the fourth and so on.  Tunes of folds 0 and 1, or FOLDS. */
#include <math.h>
#include <stdio.h>

#include "corpus.h"
#include "heard_chords.h"
#include "players.h"
#include "program_words.h"

enum { STRAIN_BARS = 8, NOTES_MAX = 512 };

/* How the player begins again: after how many bars, after a pause of how many bars, how many semitones up. */
static const struct way {
    const char *name;
    double bars, pause_bars;
    int up;
} WAYS[] = {
    {"after a pause", 8, 4, 0},        {"at once", 8, 0, 0},
    {"at once, a fourth up", 8, 0, 5}, {"in mid-strain, on a bar line", 5, 0, 0},
    {"in mid-bar", 5.5, 0, 0},         {"in mid-bar, a fourth up", 5.5, 0, 5},
};
enum { WAYS_COUNT = sizeof WAYS / sizeof *WAYS };

struct score {
    double right[2], all[2];
    size_t lines[2], felt[2]; /* bar lines, and those felt within 70 ms */
    size_t tunes;
};

/* The strain until the player breaks off, and from its start again.  Returns how many notes; `again` is where
   the second time begins. */
static size_t twice(const struct us_tune *tune, const struct way *way, struct us_note *out, double *again)
{
    double bar = us_metre_bar_quarters(tune->metre), end = tune->pickup + STRAIN_BARS * bar;
    double beat = us_metre_beat_quarters(tune->metre);
    double off = tune->pickup + round(way->bars * bar / beat) * beat;
    size_t n = 0;
    for (size_t i = 0; i < tune->note_count && tune->notes[i].at < off - 1e-6 && n < NOTES_MAX; i++)
        out[n++] = tune->notes[i];
    if (!n) return 0;
    out[n - 1].len = fmin(out[n - 1].len, off - out[n - 1].at);
    /* The pickup is played within the last bar. */
    *again = off + way->pause_bars * bar - (way->bars == STRAIN_BARS ? tune->pickup : 0);
    while (n && way->bars == STRAIN_BARS && out[n - 1].at >= *again - 1e-6)
        n--;
    const size_t first = n;
    for (size_t i = 0; i < tune->note_count && tune->notes[i].at < end - 1e-6 && n < NOTES_MAX; i++) {
        out[n] = tune->notes[i];
        out[n].at += *again;
        out[n++].pitch += (int16_t)way->up;
    }
    return n > first ? n : 0;
}

static void judge(const struct corpus_tune *t, const struct way *way, const struct performance *p, int shift,
                  double again, const struct heard_chords *h, struct score *out)
{
    double beat = us_metre_beat_quarters(t->tune.metre), bar = us_metre_bar_quarters(t->tune.metre);
    double off = t->tune.pickup + way->bars * bar;
    for (int turn = 0; turn < 2; turn++) {
        double moved = turn ? again : 0, until = turn ? t->tune.pickup + STRAIN_BARS * bar : off;
        int up = shift + (turn ? way->up : 0);
        struct us_key key = {(int8_t)us_pitch_class(t->key.tonic + up), t->key.mode};
        for (double q = t->tune.pickup + bar; q + beat <= until + 1e-6; q += beat) {
            struct us_chord chord = us_chord_at(t->tune.chords, t->tune.chord_count, q);
            double from = performance_clock(p, q + moved) + 0.05, to = performance_clock(p, q + beat + moved);
            enum us_role role = us_chord_role(chord, t->key);
            double bars = (q - t->tune.pickup) / bar;
            if (fabs(bars - round(bars)) < 1e-3) {
                out->lines[turn]++;
                out->felt[turn] += fabs(heard_nearest(h->bar_s, h->bars, from - 0.05) - from + 0.05) <= 0.07;
            }
            if (role == US_ROLE_NONE || to <= from) continue;
            out->all[turn] += to - from;
            out->right[turn] += heard_role_time(h, from, to, key, role);
        }
    }
}

static void evaluate(const struct corpus_tune *t, uint64_t seed, struct score *scores)
{
    static struct us_note notes[NOTES_MAX];
    static struct heard_chords heard;
    double bar = us_metre_bar_quarters(t->tune.metre);
    for (int w = 0; w < WAYS_COUNT; w++) {
        struct performance p;
        double again;
        size_t count = twice(&t->tune, &WAYS[w], notes, &again);
        int shift = (int)(seed * 7 % 12) - 5;
        struct us_companion_settings settings = {.key = {US_NO_KEY, 0},
                                                 .metre = t->tune.metre,
                                                 .pickup = t->tune.pickup,
                                                 .share = 100,
                                                 .chords = US_CHORDS_PRIMARY};
        if (!count || !player_perform(PLAYER_LEARNER, notes, count, bar, t->tune.pickup,
                                      (double)(66 + seed * 13 % 61), seed, &p))
            continue;
        heard_play(&settings, &p, shift, &heard);
        judge(t, &WAYS[w], &p, shift, again, &heard, &scores[w]);
        scores[w].tunes++;
        performance_finish(&p);
    }
}

/* The tune begun again in another key: is that key known at the third note, or how much later? */
enum { JUMP_FROM = 3, JUMP_TO = 8 };
static const struct way JUMPS[] = {{"after a pause of two bars", 8, 2, 0},
                                   {"after a pause of half a bar", 8, 0.5, 0},
                                   {"at once, after the strain", 8, 0, 0},
                                   {"at once, on a bar line", 5, 0, 0}};
enum { JUMPS_COUNT = sizeof JUMPS / sizeof *JUMPS };

struct jumped {
    size_t tried, known[JUMP_TO + 1];
    size_t can_tell,
        told; /* a note of the first three is strange to the key before, and that was known; then */
};

/* Whether one of the notes is strange to the key. */
static bool strange_to(struct us_key key, const struct us_note *notes, size_t count)
{
    us_pcset scale = us_key_scale(key);
    for (size_t i = 0; i < count; i++)
        if (!us_pcset_has(scale, notes[i].pitch)) return true;
    return false;
}

/* The tonic after the first `count` notes. */
static int tonic_after(const struct corpus_tune *t, const struct us_note *notes, size_t count, uint64_t seed)
{
    static struct heard_chords heard;
    struct performance p;
    struct us_companion_settings settings = {
        .key = {US_NO_KEY, 0}, .pickup = -1, .share = 100, .chords = US_CHORDS_PRIMARY};
    if (!player_perform(PLAYER_STEADY, notes, count, us_metre_bar_quarters(t->tune.metre), t->tune.pickup,
                        (double)(66 + seed * 13 % 61), seed, &p))
        return US_NO_KEY;
    heard_play(&settings, &p, 0, &heard);
    performance_finish(&p);
    return heard.key.tonic;
}

static void jump(const struct corpus_tune *t, uint64_t seed, struct jumped *jumped)
{
    static struct us_note notes[NOTES_MAX];
    for (int w = 0; w < JUMPS_COUNT; w++) {
        struct way way = JUMPS[w];
        struct jumped *j = &jumped[w];
        double again;
        way.up = (int)(seed * 5 % 11) - 5;
        if (way.up >= 0) way.up++;
        size_t count = twice(&t->tune, &way, notes, &again), first = 0;
        while (first < count && notes[first].at < again + t->tune.notes[0].at - 1e-6)
            first++;
        if (first + JUMP_TO > count) continue;
        int tonic = us_pitch_class(t->key.tonic + way.up);
        bool can_tell = strange_to(t->key, notes + first, JUMP_FROM) &&
                        tonic_after(t, notes, first, seed) == t->key.tonic;
        j->tried++;
        j->can_tell += can_tell;
        for (size_t n = JUMP_FROM; n <= JUMP_TO; n++) {
            bool known = tonic_after(t, notes, first + n, seed) == tonic;
            j->known[n] += known;
            if (n == JUMP_FROM) j->told += can_tell && known;
        }
    }
}

static void print_jumps(const struct jumped *jumped)
{
    for (int w = 0; w < JUMPS_COUNT; w++) {
        printf("another key, %-27s %zu tunes: known at note", JUMPS[w].name, jumped[w].tried);
        for (int n = JUMP_FROM; n <= JUMP_TO; n++)
            printf(" %d %.3f%s", n, (double)jumped[w].known[n] / (double)jumped[w].tried,
                   n < JUMP_TO ? "," : "");
        printf("; third note, where one of three is strange to the old key: %.3f of %zu\n",
               (double)jumped[w].told / (double)jumped[w].can_tell, jumped[w].can_tell);
    }
}

static void print_scores(const struct score *scores)
{
    for (int w = 0; w < WAYS_COUNT; w++)
        printf("%-30s %zu tunes: first %.3f, again %.3f; bar lines first %.3f, again %.3f\n", WAYS[w].name,
               scores[w].tunes, scores[w].right[0] / scores[w].all[0], scores[w].right[1] / scores[w].all[1],
               (double)scores[w].felt[0] / (double)scores[w].lines[0],
               (double)scores[w].felt[1] / (double)scores[w].lines[1]);
}

int main(int argc, char **argv)
{
    const char *folder;
    int limit = 150;
    bool folds[CORPUS_FOLDS] = {true, true};
    const struct word WORDS[] = {
        {"FOLDER", WORD_TEXT, .to = &folder},
        {"LIMIT", WORD_NUMBER, .optional = true, .low = 1, .high = 100000, .to = &limit},
        {"FOLDS", WORD_FOLDS, .optional = true, .to = folds}};
    struct corpus corpus;
    struct score scores[WAYS_COUNT] = {0};
    struct jumped jumped[JUMPS_COUNT] = {0};
    int status = words_begin("evaluate_memory", WORDS, 3, argc, argv, &corpus);
    if (status) return status;
    size_t done = 0;
    for (size_t i = 0; i < corpus.count && done < (size_t)limit; i++) {
        const struct corpus_tune *t = &corpus.tunes[i * 7919 % corpus.count];
        double bar = us_metre_bar_quarters(t->tune.metre);
        if (!t->grid_sure || !t->key_sure || !folds[t->fold] || t->tune.note_count < 24) continue;
        if (t->tune.notes[t->tune.note_count - 1].at < t->tune.pickup + STRAIN_BARS * bar) continue;
        evaluate(t, ++done, scores);
        jump(t, done, jumped);
    }
    print_scores(scores);
    print_jumps(jumped);
    corpus_finish(&corpus);
    return 0;
}
