#include "support.h"

#include <stdio.h>
#include <stdlib.h>

#include "undersong/songbook.h"

/* Invented tunes: random walks on a major scale in 4/4, with a seed. */
enum { NOTES = 64, BOOK = 500 };

struct invented {
    struct us_note notes[NOTES];
    struct us_chord_span chords[16];
    struct us_score score;
};

static uint32_t next_random(uint32_t *seed)
{
    *seed = *seed * 1664525u + 1013904223u;
    return *seed >> 8;
}

static void invent(struct invented *t, uint32_t seed)
{
    static const double LENGTHS[] = {0.5, 0.5, 1, 1, 1, 1.5, 2};
    static const int STEPS[] = {-3, -2, -1, -1, 0, 1, 1, 2, 4};
    int step = 7 + (int)(next_random(&seed) % 7);
    double at = 0;
    for (int i = 0; i < NOTES; i++) {
        step += STEPS[next_random(&seed) % 9];
        if (step < 3) step += 4;
        if (step > 16) step -= 4;
        double len = LENGTHS[next_random(&seed) % 7];
        int pitch = 48 + us_mode_step_semitones(US_MODE_MAJOR, step % 7 + 1) + 12 * (step / 7);
        t->notes[i] = (struct us_note){at, len, (int16_t)pitch, 70};
        at += len;
    }
    for (int i = 0; i < 16; i++)
        t->chords[i] = (struct us_chord_span){i * 4.0, 4.0, {(int8_t)(i % 2 ? 7 : 0), US_CHORD_MAJ}};
    struct us_tune tune = {.notes = t->notes,
                           .note_count = NOTES,
                           .chords = t->chords,
                           .chord_count = 16,
                           .key = {0, US_MODE_MAJOR},
                           .metre = {4, 4},
                           .title = ""};
    ck_assert(us_score_init(&t->score, &tune));
}

static const int64_t QUARTER_NS = 600000000;

/* Where it is not known how long the pickup is, bars are counted from the start. */
START_TEST(score_without_a_known_pickup)
{
    struct us_note notes[8];
    struct us_score score;
    for (int i = 0; i < 8; i++)
        notes[i] = (struct us_note){i, 1, (int16_t)(60 + i), 70};
    struct us_tune tune = {.notes = notes, .note_count = 8, .metre = {4, 4}, .pickup = -1, .title = ""};
    ck_assert(us_score_init(&score, &tune));
    for (int i = 0; i < 8; i++)
        ck_assert_int_eq(score.entry[i], i % 4 == 0);
    ck_assert(score.tune.pickup >= 0);
}
END_TEST

START_TEST(score_followed_in_every_key)
{
    static struct invented t;
    static struct us_score_follower f;
    invent(&t, 11);
    for (int up = 0; up < 12; up++) {
        us_score_follow(&f, &t.score, 2);
        for (int i = 0; i < NOTES; i++) {
            us_score_note(&f, (int64_t)(t.notes[i].at * (double)QUARTER_NS), t.notes[i].pitch + up - 12);
            if (i < 3) continue;
            ck_assert_int_eq(f.place, i);
            ck_assert_int_eq(f.transposition, up);
            ck_assert_int_eq(us_score_key(&f).tonic, up);
        }
    }
}
END_TEST

/* Plays notes `from` to `to` and says at how many of them the place was right. */
static int play(struct us_score_follower *f, const struct invented *t, int from, int to, int64_t *now_ns)
{
    int right = 0;
    for (int i = from; i < to; i++) {
        us_score_note(f, *now_ns, t->notes[i].pitch + 3);
        right += f->place == i;
        *now_ns += (int64_t)(t->notes[i].len * (double)QUARTER_NS);
    }
    return right;
}

START_TEST(score_survives_mistakes)
{
    static struct invented t;
    static struct us_score_follower f;
    invent(&t, 5);
    int64_t now = 0;
    us_score_follow(&f, &t.score, 2);
    ck_assert_int_eq(play(&f, &t, 0, 16, &now), 16);
    us_score_note(&f, now, t.notes[16].pitch + 3 + 1); /* a wrong note */
    ck_assert_int_eq(f.place, 16);
    now += QUARTER_NS;
    ck_assert_int_eq(play(&f, &t, 17, 24, &now), 7);
    ck_assert_int_eq(play(&f, &t, 25, 32, &now), 7); /* one left out */
    now += 3000000000;                               /* a hesitation */
    ck_assert_int_eq(play(&f, &t, 32, 40, &now), 8);
    us_score_note(&f, now, t.notes[39].pitch + 3); /* a repeated note */
    ck_assert_int_eq(f.place, 39);
    now += QUARTER_NS / 2;
    ck_assert_int_eq(play(&f, &t, 40, 48, &now), 8);
    ck_assert_int_ge(play(&f, &t, 0, 12, &now), 10); /* from the start again */
    ck_assert(f.trust > 0);
}
END_TEST

START_TEST(score_chords_follow_the_key)
{
    static struct invented t;
    static struct us_score_follower f;
    invent(&t, 7);
    int64_t now = 0;
    us_score_follow(&f, &t.score, 2);
    play(&f, &t, 0, 8, &now);
    ck_assert_int_eq(us_score_chord(&f, 1).root, 3);  /* C, three up */
    ck_assert_int_eq(us_score_chord(&f, 4).root, 10); /* G, three up */
    ck_assert_int_eq(us_score_chord(&f, 1000).root, US_NO_CHORD);
}
END_TEST

START_TEST(another_tune_is_not_trusted)
{
    static struct invented t, other;
    static struct us_score_follower f;
    int trusted = 0;
    for (uint32_t seed = 100; seed < 120; seed++) {
        invent(&t, seed);
        invent(&other, seed + 1000);
        int64_t now = 0;
        us_score_follow(&f, &t.score, 1);
        play(&f, &other, 0, 16, &now);
        trusted += f.trust > 0;
    }
    ck_assert_int_le(trusted, 1);
}
END_TEST

static struct us_song_opening openings[BOOK];

static struct invented *book_of(const struct us_score **songs)
{
    struct invented *book = malloc(BOOK * sizeof *book);
    for (uint32_t i = 0; i < BOOK; i++) {
        invent(&book[i], i * 77 + 1);
        songs[i] = &book[i].score;
        us_song_opening(&openings[i], songs[i]);
    }
    return book;
}

START_TEST(songbook_recognizes_within_eight_notes)
{
    static const struct us_score *songs[BOOK];
    static struct us_songbook_listener l;
    struct invented *tunes = book_of(songs);
    struct us_songbook book = {songs, openings, BOOK};
    int right = 0, with_mistake = 0;
    for (int song = 0; song < BOOK; song += 5) {
        for (int mistake = 0; mistake < 2; mistake++) {
            us_songbook_listen(&l, &book);
            for (int i = 0; i < 8; i++) {
                int wrong = mistake && i == 1 + song % 6 ? 2 : 0;
                us_songbook_note(&l, (int64_t)(tunes[song].notes[i].at * (double)QUARTER_NS),
                                 tunes[song].notes[i].pitch + song % 12 + wrong);
            }
            double probability;
            int best = us_songbook_best(&l, &probability);
            *(mistake ? &with_mistake : &right) += best == song && probability > 0.7;
        }
    }
    free(tunes);
    ck_assert_int_ge(right, 98);
    ck_assert_int_ge(with_mistake, 80);
}
END_TEST

/* A performer of the opening who puts an ornament before the note `at`: it comes 80 ms before it. */
START_TEST(songbook_knows_ornaments)
{
    static const struct us_score *songs[BOOK];
    static struct us_songbook_listener l;
    struct invented *tunes = book_of(songs);
    struct us_songbook book = {songs, openings, BOOK};
    int right = 0, played = 0;
    for (int song = 0; song < BOOK; song += 5) {
        us_songbook_listen(&l, &book);
        int at = song / 5 % 6; /* the first note, too */
        for (int i = 0; i < 7; i++) {
            int64_t now = (int64_t)(tunes[song].notes[i].at * (double)QUARTER_NS) + 1000000000;
            int pitch = tunes[song].notes[i].pitch + song % 12;
            if (i == at) us_songbook_note(&l, now - 80000000, pitch + 2);
            us_songbook_note(&l, now, pitch);
        }
        right += us_songbook_best(&l, NULL) == song;
        played++;
    }
    free(tunes);
    ck_assert_int_ge(right, played * 95 / 100);
}
END_TEST

/* Gone through in small portions the book gives the same answer, and nothing before the last of them. */
START_TEST(songbook_in_portions)
{
    static const struct us_score *songs[BOOK];
    static struct us_songbook_listener at_once, by_and_by;
    struct invented *tunes = book_of(songs);
    struct us_songbook book = {songs, openings, BOOK};
    us_songbook_listen(&at_once, &book);
    us_songbook_listen(&by_and_by, &book);
    int portions = 0;
    for (int i = 0; i < 8; i++) {
        int64_t now = (int64_t)(tunes[42].notes[i].at * (double)QUARTER_NS);
        double before, between, after;
        us_songbook_best(&by_and_by, &before);
        us_songbook_note(&at_once, now, tunes[42].notes[i].pitch);
        us_songbook_hear(&by_and_by, now, tunes[42].notes[i].pitch);
        while (!us_songbook_work(&by_and_by, 100)) {
            portions++;
            us_songbook_best(&by_and_by, &between);
            if (i) ck_assert_double_eq(between, before);
        }
        ck_assert_int_eq(us_songbook_best(&by_and_by, &between), us_songbook_best(&at_once, &after));
        ck_assert_double_eq(between, after);
    }
    free(tunes);
    ck_assert_int_eq(us_songbook_best(&at_once, NULL), 42);
    ck_assert_int_ge(portions, 20);
}
END_TEST

/* A tune begun again in another key, after a pause or at once, is known there at the third note. */
START_TEST(score_begun_again_in_another_key)
{
    static struct invented t;
    static struct us_score_follower f;
    int found[2] = {0}, times = 40;
    for (uint32_t seed = 1; seed <= 80; seed++) {
        int64_t now = 0;
        invent(&t, seed / 2 + 1);
        us_score_follow(&f, &t.score, 2);
        play(&f, &t, 0, 32, &now);
        now += seed % 2 ? 1500000000 : 0;
        for (int i = 0; i < 3; i++) {
            us_score_note(&f, now, t.notes[i].pitch + 5);
            now += (int64_t)(t.notes[i].len * (double)QUARTER_NS);
        }
        found[seed % 2] += f.place == 2 && f.transposition == 5;
    }
    printf("# jump of key: at once %d, after a pause %d of %d\n", found[0], found[1], times);
    ck_assert_int_ge(found[0], times * 90 / 100);
    ck_assert_int_ge(found[1], times * 95 / 100);
}
END_TEST

/* Who goes back after a pause is found at the second note, at a bar line just before or at the start. */
START_TEST(score_going_back_after_a_pause)
{
    static struct invented t;
    static struct us_score_follower f;
    int found = 0, times = 0;
    for (uint32_t seed = 1; seed <= 20; seed++) {
        invent(&t, seed);
        for (int back = 0; back < 2; back++) {
            int64_t now = 0;
            int to = 24;
            us_score_follow(&f, &t.score, 2);
            play(&f, &t, 0, 32, &now);
            while (back && !t.score.entry[to])
                to++;
            if (!back) to = 0;
            now += 2000000000;
            play(&f, &t, to, to + 3, &now);
            found += f.place == to + 2;
            times++;
        }
    }
    ck_assert_int_ge(found, times * 9 / 10);
}
END_TEST

/* A folder may hold a tune twice, in another key and with other chords: it is known all the same. */
START_TEST(songbook_with_a_tune_twice)
{
    static const struct us_score *songs[BOOK];
    static struct us_songbook_listener l;
    struct invented *tunes = book_of(songs);
    struct us_songbook book = {songs, openings, BOOK};
    openings[7] = openings[8];
    for (int i = 0; i < openings[7].count; i++)
        openings[7].pitch[i] = (int8_t)(openings[7].pitch[i] + 3);
    us_songbook_listen(&l, &book);
    for (int i = 0; i < 8; i++)
        us_songbook_note(&l, (int64_t)(tunes[8].notes[i].at * (double)QUARTER_NS), tunes[8].notes[i].pitch);
    double probability;
    int best = us_songbook_best(&l, &probability);
    ck_assert(best == 7 || best == 8);
    ck_assert_double_gt(probability, 0.9);
    free(tunes);
}
END_TEST

START_TEST(songbook_knows_when_it_is_none)
{
    static const struct us_score *songs[BOOK];
    static struct us_songbook_listener l;
    struct invented *tunes = book_of(songs);
    static struct invented stranger;
    struct us_songbook book = {songs, openings, BOOK};
    int believed = 0;
    for (uint32_t seed = 0; seed < 50; seed++) {
        invent(&stranger, seed + 900001);
        us_songbook_listen(&l, &book);
        for (int i = 0; i < 8; i++)
            us_songbook_note(&l, (int64_t)(stranger.notes[i].at * (double)QUARTER_NS),
                             stranger.notes[i].pitch);
        double probability;
        believed += us_songbook_best(&l, &probability) >= 0 && probability > 0.7;
    }
    free(tunes);
    ck_assert_int_le(believed, 4);
}
END_TEST

int main(void)
{
    const TTest *const TESTS[] = {score_followed_in_every_key,
                                  score_survives_mistakes,
                                  score_chords_follow_the_key,
                                  another_tune_is_not_trusted,
                                  songbook_recognizes_within_eight_notes,
                                  songbook_knows_ornaments,
                                  songbook_in_portions,
                                  songbook_with_a_tune_twice,
                                  score_going_back_after_a_pause,
                                  score_without_a_known_pickup,
                                  score_begun_again_in_another_key,
                                  songbook_knows_when_it_is_none};
    return RUN_TESTS("score", TESTS);
}
