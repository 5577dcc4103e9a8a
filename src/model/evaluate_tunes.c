/* How well known tunes are followed and recognized, on simulated players.
   usage: evaluate_tunes FOLDER [LIMIT [FOLDS]]
   The songbook is judged on tunes of folds 0 and 1, or FOLDS; its figures were set on the others.
   Printed, for each kind of player, every tune in a random key and tempo:
     chord    share of the time, from 50 ms after each beat to the next, in which the tune's own chord sounds
     together share of bar lines with a note of the player at which the left hand strikes within 50 ms of it
     spread   standard deviation of that strike against the note, within 120 ms
     within 8 share of 500 tunes that the songbook holds for the most probable after eight notes
     sure     share recognized within eight notes: more probable than 0.7 against all others and none
     of a stranger  the same for a tune that is not in the book: wrongly so */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "corpus.h"
#include "heard_chords.h"
#include "program_words.h"

enum { BOOK = 500, TIMES = 3 };
static const double SURE = 0.7;

static uint64_t state = 88172645463325252u;

static uint32_t random_below(uint32_t n)
{
    state ^= state << 13;
    state ^= state >> 7;
    state ^= state << 17;
    return (uint32_t)(state >> 33) % n;
}

struct followed {
    double right_s, all_s, gaps, gap_sum, gap_squares;
    size_t bars, together;
};

/* At a bar line with a note of the player: does the left hand strike with it? */
static void judge_bar(const struct performance *p, double quarters, const struct heard_chords *h,
                      struct followed *out)
{
    double s = performance_clock(p, quarters), onset = INFINITY;
    for (size_t i = 0; i < p->note_count; i++)
        if (fabs(p->notes[i].on_s - s) < fabs(onset - s)) onset = p->notes[i].on_s;
    if (fabs(onset - s) > 0.12) return;
    double gap = heard_nearest(h->strike_s, h->strikes, onset) - onset;
    out->bars++;
    out->together += fabs(gap) <= 0.05;
    if (fabs(gap) > 0.12) return;
    out->gaps++;
    out->gap_sum += gap;
    out->gap_squares += gap * gap;
}

static void judge(const struct us_tune *tune, const struct performance *p, int shift,
                  const struct heard_chords *h, struct followed *out)
{
    double bar = us_metre_bar_quarters(tune->metre);
    double beat = us_metre_beat_quarters(tune->metre), last = 0;
    for (size_t i = 0; i < p->note_count; i++)
        last = fmax(last, p->notes[i].off_s);
    for (double q = fmod(tune->pickup, beat); q + beat <= p->end_quarters + 1e-6; q += beat) {
        struct us_chord chord = us_chord_at(tune->chords, tune->chord_count, performance_written(p, q));
        double from = performance_clock(p, q) + 0.05, to = performance_clock(p, q + beat);
        if (chord.root == US_NO_CHORD || to <= from || to > last) continue;
        out->all_s += to - from;
        out->right_s += heard_root_time(h, from, to, us_pitch_class(chord.root + shift));
        double bars = (performance_written(p, q) - tune->pickup) / bar;
        if (fabs(bars - round(bars)) < 1e-3) judge_bar(p, q, h, out);
    }
}

static void evaluate_known(const struct corpus *corpus, enum player player, size_t limit)
{
    static struct us_score score;
    static struct heard_chords heard;
    struct followed all = {0};
    size_t tunes = 0;
    for (size_t i = 0; i < corpus->count && tunes < limit; i += 1 + corpus->count / limit) {
        const struct corpus_tune *t = &corpus->tunes[i];
        struct us_tune tune = t->tune;
        tune.key = t->key;
        struct performance p;
        if (!t->grid_sure || !us_score_init(&score, &tune)) continue;
        if (!player_perform(player, tune.notes, tune.note_count, us_metre_bar_quarters(tune.metre),
                            tune.pickup, 66 + random_below(61), i + 1, &p))
            continue;
        int shift = (int)random_below(12) - 5;
        struct us_companion_settings settings = {
            .key = {US_NO_KEY, 0}, .pickup = -1, .share = 100, .tune = &score, .chords = US_CHORDS_PRIMARY};
        heard_play(&settings, &p, shift, &heard);
        judge(&tune, &p, shift, &heard, &all);
        performance_finish(&p);
        tunes++;
    }
    double mean = all.gap_sum / all.gaps;
    printf("%-14s known tune: %zu tunes, chord %.3f, together %.3f, spread %.1f ms\n", player_name(player),
           tunes, all.right_s / all.all_s, (double)all.together / (double)all.bars,
           1000 * sqrt(all.gap_squares / all.gaps - mean * mean));
}

/* The songbook that is recognized from. */
static struct {
    struct us_score scores[BOOK];
    const struct us_score *songs[BOOK];
    struct us_song_opening openings[BOOK];
    const struct corpus_tune *tunes[BOOK];
    struct us_songbook book;
} shelf;

static void fill_shelf(const struct corpus *corpus)
{
    size_t count = 0;
    for (size_t i = 0; i < corpus->count && count < BOOK; i++) {
        /* The order is by style and name: some of each. */
        if (corpus->count > BOOK && (i * 7919) % corpus->count >= BOOK) continue;
        struct us_tune tune = corpus->tunes[i].tune;
        if (!us_score_init(&shelf.scores[count], &tune)) continue;
        shelf.tunes[count] = &corpus->tunes[i];
        shelf.songs[count] = &shelf.scores[count];
        us_song_opening(&shelf.openings[count], &shelf.scores[count]);
        count++;
    }
    shelf.book = (struct us_songbook){shelf.songs, shelf.openings, count};
}

/* Another tune of the book begins with the same eight notes, in pitch. */
static bool has_twin(size_t song)
{
    const struct us_song_opening *a = &shelf.openings[song];
    for (size_t other = 0; other < shelf.book.count; other++) {
        const struct us_song_opening *b = &shelf.openings[other];
        int same = 0;
        while (same < 8 && a->pitch[same] - a->pitch[0] == b->pitch[same] - b->pitch[0])
            same++;
        if (other != song && same == 8) return true;
    }
    return false;
}

struct recognized {
    size_t played, right, sure_right, sure_wrong, stranger, stranger_sure;
};

/* Recognized: this tune, or the same one that is in the book once more, as far as the book listens. */
static bool is_it(int best, size_t song)
{
    const struct us_song_opening *a = &shelf.openings[song], *b = best < 0 ? NULL : &shelf.openings[best];
    if (!b || a->count != b->count) return false;
    for (int i = 1; i < a->count; i++)
        if (a->pitch[i] - a->pitch[0] != b->pitch[i] - b->pitch[0]) return false;
    return true;
}

/* The first eight notes of a tune; with `stranger` the tune is not in the book. */
static int recognize(const struct performance *p, int shift, const struct us_songbook *book,
                     double *probability)
{
    static struct us_songbook_listener listener;
    us_songbook_listen(&listener, book);
    for (size_t n = 0; n < p->note_count && n < 8; n++)
        us_songbook_note(&listener, (int64_t)(p->notes[n].on_s * 1e9), p->notes[n].pitch + shift);
    return us_songbook_best(&listener, probability);
}

static void recognize_with_and_without(size_t song, const struct performance *p, struct recognized *r)
{
    int shift = (int)random_below(12) - 5;
    double probability = 0;
    int best = recognize(p, shift, &shelf.book, &probability);
    r->played++;
    bool right = is_it(best, song);
    r->right += right;
    r->sure_right += right && probability > SURE;
    r->sure_wrong += !right && probability > SURE;
    if (has_twin(song)) return;
    size_t last = shelf.book.count - 1;
    struct us_song_opening opening = shelf.openings[song];
    struct us_songbook without = {shelf.songs, shelf.openings, last};
    shelf.openings[song] = shelf.openings[last];
    recognize(p, shift, &without, &probability);
    shelf.openings[song] = opening;
    r->stranger++;
    r->stranger_sure += probability > SURE;
}

static void evaluate_book(enum player player, const bool folds[CORPUS_FOLDS])
{
    struct recognized r = {0};
    for (size_t i = 0; i < TIMES * shelf.book.count; i++) {
        struct performance p;
        size_t song = i % shelf.book.count;
        const struct us_tune *tune = &shelf.tunes[song]->tune;
        size_t opening = tune->note_count < 16 ? tune->note_count : 16;
        if (!folds[shelf.tunes[song]->fold]) continue;
        if (!player_perform(player, tune->notes, opening, us_metre_bar_quarters(tune->metre), tune->pickup,
                            66 + random_below(61), i + 1, &p))
            continue;
        recognize_with_and_without(song, &p, &r);
        performance_finish(&p);
    }
    double all = (double)r.played;
    printf("%-14s songbook of %zu: within 8 %.3f, sure %.3f, sure of another %.3f, of a stranger %.3f\n",
           player_name(player), shelf.book.count, (double)r.right / all, (double)r.sure_right / all,
           (double)r.sure_wrong / all, (double)r.stranger_sure / (double)r.stranger);
}

/* Twenty-four notes, then from the start in another key: whether place and key are right at the third of
   these and at the next two. */
static bool finds_other_key(const struct us_score *score, int up, int64_t pause_ns)
{
    static struct us_score_follower f;
    const struct us_note *notes = score->tune.notes;
    int64_t now_ns = 0;
    bool right = true;
    us_score_follow(&f, score, 2);
    for (int n = 0; n < 24; n++) {
        us_score_note(&f, now_ns, notes[n].pitch);
        now_ns += (int64_t)((notes[n + 1].at - notes[n].at) * 6e8);
    }
    now_ns += pause_ns;
    for (int n = 0; n < 5; n++) {
        us_score_note(&f, now_ns, notes[n].pitch + up);
        now_ns += (int64_t)((notes[n + 1].at - notes[n].at) * 6e8);
        right = right && (n < 2 || (f.place == n && f.transposition == up));
    }
    return right;
}

static void evaluate_other_key(const bool folds[CORPUS_FOLDS])
{
    size_t played = 0, at_once = 0, paused = 0;
    for (size_t i = 0; i < shelf.book.count; i++) {
        if (shelf.tunes[i]->tune.note_count < 40 || !folds[shelf.tunes[i]->fold]) continue;
        played++;
        at_once += finds_other_key(&shelf.scores[i], 1 + (int)(i % 11), 0);
        paused += finds_other_key(&shelf.scores[i], 1 + (int)(i % 11), 1500000000);
    }
    printf("known tune begun again in another key, right from the third note on: at once %.3f, after a pause "
           "%.3f\n",
           (double)at_once / (double)played, (double)paused / (double)played);
}

int main(int argc, char **argv)
{
    const char *folder;
    int limit = 150;
    bool folds[CORPUS_FOLDS] = {true, true};
    const struct word WORDS[] = {
        {"FOLDER", WORD_TEXT, .to = &folder},
        {"LIMIT", WORD_NUMBER, .optional = true, .low = 0, .high = 100000, .to = &limit},
        {"FOLDS", WORD_FOLDS, .optional = true, .to = folds}};
    struct corpus corpus;
    int status = words_begin("evaluate_tunes", WORDS, 3, argc, argv, &corpus);
    if (status) return status;
    fill_shelf(&corpus);
    size_t twins = 0;
    for (size_t i = 0; i < shelf.book.count; i++)
        twins += has_twin(i);
    printf("%zu of %zu tunes begin with the same eight notes as another\n", twins, shelf.book.count);
    evaluate_other_key(folds);
    for (int player = 0; player < PLAYERS; player++) {
        if (limit) evaluate_known(&corpus, (enum player)player, (size_t)limit);
        evaluate_book((enum player)player, folds);
    }
    corpus_finish(&corpus);
    return 0;
}
