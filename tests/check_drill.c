#include "support.h"

#include "undersong/drill.h"

#include <string.h>

/* Made up for this test: the first bar comes back in the middle, as tunes do. */
static const int8_t TUNE[] = {60, 64, 62, 67, 65, 64, 62, 59, 60, 69, 67, 65, 67, 64, 62,
                              60, 64, 62, 67, 65, 64, 62, 59, 60, 62, 64, 65, 62, 59, 60};
enum { TUNE_NOTES = sizeof TUNE };

static struct us_key key_named(const char *name)
{
    struct us_key key;
    ck_assert(us_key_parse(name, &key));
    return key;
}

static struct us_drill drill_of(const char *text)
{
    struct us_drill d;
    ck_assert(us_drill_parse(text, &d, NULL));
    return d;
}

/* Plays so many notes of the tune, moved; the last news that was not nothing. */
static enum us_drill_news play(struct us_drill *d, int shift, int count)
{
    enum us_drill_news news = US_DRILL_NOTHING;
    for (int i = 0; i < count; i++) {
        enum us_drill_news n = us_drill_note(d, TUNE[i] + shift);
        if (n != US_DRILL_NOTHING) news = n;
    }
    return news;
}

static void expect_asked(const struct us_drill *d, const char *name)
{
    ck_assert(us_key_equal(d->asked, key_named(name)));
    ck_assert(us_key_equal(d->asked, d->keys[d->now]));
}

START_TEST(drill_words)
{
    struct us_drill d;
    const char *bad;
    ck_assert(us_drill_parse("C,D,Bb,F#", &d, &bad));
    ck_assert_int_eq(d.count, 4);
    expect_asked(&d, "C");
    ck_assert(us_key_equal(us_drill_after(&d), key_named("D")));
    ck_assert(us_key_equal(d.keys[2], key_named("Bb")) && us_key_equal(d.keys[3], key_named("F#")));
    static const struct {
        const char *text;
        size_t at;
    } BAD[] = {{"", 0}, {"C,", 2}, {"C,H,D", 2}, {",C", 0}, {"C,,D", 2}, {"C,D,Gb major and more", 4}};
    for (size_t i = 0; i < sizeof BAD / sizeof *BAD; i++) {
        ck_assert_msg(!us_drill_parse(BAD[i].text, &d, &bad), "%s", BAD[i].text);
        ck_assert(bad == BAD[i].text + BAD[i].at);
    }
    char many[200] = "C";
    for (int i = 1; i < US_DRILL_KEYS_MAX; i++)
        strcat(many, ",C");
    ck_assert(us_drill_parse(many, &d, NULL));
    strcat(many, ",C");
    ck_assert(!us_drill_parse(many, &d, NULL));
}
END_TEST

/* Stopping after each tune: the next key is asked for, the last leads back to the first. */
START_TEST(drill_round_the_keys)
{
    struct us_drill d = drill_of("C,D,Bb");
    ck_assert_int_eq(play(&d, 0, TUNE_NOTES), US_DRILL_NOTHING);
    ck_assert_int_eq(us_drill_run_over(&d, key_named("C")), US_DRILL_NEXT);
    ck_assert(us_key_equal(d.played, key_named("C")));
    expect_asked(&d, "D");
    play(&d, 2, TUNE_NOTES);
    ck_assert_int_eq(us_drill_run_over(&d, key_named("D")), US_DRILL_NEXT);
    expect_asked(&d, "Bb");
    play(&d, -2, TUNE_NOTES);
    ck_assert_int_eq(us_drill_run_over(&d, key_named("Bb")), US_DRILL_DONE);
    expect_asked(&d, "C");
}
END_TEST

/* Without a stop: the opening in the next key is enough, and it is said while that key's first bars are
 * played. */
START_TEST(drill_without_a_stop)
{
    struct us_drill d = drill_of("C,D,Bb");
    play(&d, 0, TUNE_NOTES);
    us_drill_run_over(&d, key_named("C"));
    ck_assert_int_eq(play(&d, 2, TUNE_NOTES), US_DRILL_NOTHING);
    ck_assert_int_eq(play(&d, -2, US_DRILL_OPENING - 1), US_DRILL_NOTHING);
    ck_assert_int_eq(us_drill_note(&d, TUNE[US_DRILL_OPENING - 1] - 2), US_DRILL_NEXT);
    ck_assert(us_key_equal(d.played, key_named("D")));
    expect_asked(&d, "Bb");
    for (int i = US_DRILL_OPENING; i < TUNE_NOTES; i++)
        ck_assert_int_eq(us_drill_note(&d, TUNE[i] - 2), US_DRILL_NOTHING);
    ck_assert_int_eq(us_drill_run_over(&d, key_named("Bb")), US_DRILL_DONE);
}
END_TEST

/* Another key than asked: once more.  A broken-off start, or a few notes to begin with: nothing.  A key
   estimate that is wrong (the relative minor) is outweighed by how the tune began. */
START_TEST(drill_again)
{
    struct us_drill d = drill_of("C,D,Bb");
    play(&d, 0, 7);
    ck_assert_int_eq(us_drill_run_over(&d, key_named("C")), US_DRILL_NOTHING);
    expect_asked(&d, "C");
    play(&d, 5, TUNE_NOTES);
    ck_assert_int_eq(us_drill_run_over(&d, key_named("F")), US_DRILL_AGAIN);
    ck_assert(us_key_equal(d.played, key_named("F")));
    expect_asked(&d, "C");
    play(&d, 0, 12);
    ck_assert_int_eq(us_drill_run_over(&d, key_named("C")), US_DRILL_NOTHING);
    play(&d, 0, TUNE_NOTES);
    ck_assert_int_eq(us_drill_run_over(&d, key_named("Am")), US_DRILL_NEXT);
    expect_asked(&d, "D");
    play(&d, 3, TUNE_NOTES);
    ck_assert_int_eq(us_drill_run_over(&d, key_named("D")), US_DRILL_AGAIN);
    ck_assert(us_key_equal(d.played, key_named("Eb")));
    expect_asked(&d, "D");
    ck_assert_int_eq(us_drill_run_over(&d, (struct us_key){US_NO_KEY, US_MODE_MAJOR}), US_DRILL_NOTHING);
}
END_TEST

/* The opening coming back inside the tune, in the same key, is not the next key. */
START_TEST(drill_of_one_key_and_of_equal_neighbours)
{
    struct us_drill d = drill_of("C");
    for (int i = 0; i < 3; i++) {
        ck_assert_int_eq(play(&d, 0, TUNE_NOTES), US_DRILL_NOTHING);
        ck_assert_int_eq(us_drill_run_over(&d, key_named("C")), US_DRILL_DONE);
    }
    d = drill_of("C,C,D");
    play(&d, 0, TUNE_NOTES);
    us_drill_run_over(&d, key_named("C"));
    ck_assert_int_eq(play(&d, 0, TUNE_NOTES), US_DRILL_NOTHING);
    ck_assert_int_eq(us_drill_run_over(&d, key_named("C")), US_DRILL_NEXT);
    expect_asked(&d, "D");
}
END_TEST

/* What looks like the next key but is not: the opening in the other mode's key, after a false start, or
   inside a tune that repeats its opening higher up. */
START_TEST(drill_is_not_misled)
{
    struct us_drill d = drill_of("C,Am");
    play(&d, 0, TUNE_NOTES);
    us_drill_run_over(&d, key_named("C"));
    play(&d, 0, TUNE_NOTES);
    us_drill_run_over(&d, key_named("C"));
    d.now = 0, d.asked = key_named("C");
    play(&d, 0, TUNE_NOTES);
    ck_assert_int_eq(play(&d, 9, TUNE_NOTES), US_DRILL_NOTHING); /* in A major */

    d = drill_of("C,D");
    play(&d, 0, TUNE_NOTES);
    us_drill_run_over(&d, key_named("C"));
    play(&d, 2, TUNE_NOTES);
    us_drill_run_over(&d, key_named("D"));
    play(&d, 0, 12);
    ck_assert_int_eq(play(&d, 2, 12), US_DRILL_NOTHING); /* C was broken off, and D too */
    expect_asked(&d, "C");

    d = drill_of("C,F,G");
    for (int turn = 0; turn < 2; turn++) {
        for (int part = 0; part < 2; part++)
            play(&d, 5 * part + 5 * turn, US_DRILL_OPENING);
        play(&d, 5 * turn, US_DRILL_OPENING);
        ck_assert_int_eq(us_drill_run_over(&d, key_named(turn ? "F" : "C")), US_DRILL_NEXT);
    }
    for (int part = 0; part < 2; part++)
        play(&d, 7 + 5 * part, US_DRILL_OPENING);
    ck_assert_int_eq(us_drill_run_over(&d, key_named("C")),
                     US_DRILL_DONE); /* it began in G, whatever it seems */
}
END_TEST

/* Round all twelve keys twice, with a stop after each tune and, after the first, without any. */
START_TEST(drill_through_all_keys)
{
    struct us_drill stops = drill_of("C,G,D,A,E,B,Gb,Db,Ab,Eb,Bb,F"), runs = stops;
    int next = 0, done = 0;
    for (int i = 0; i < 24; i++) {
        int shift = us_pitch_class(7 * i);
        struct us_key key = {(int8_t)shift, US_MODE_MAJOR};
        ck_assert_int_eq(play(&stops, shift, TUNE_NOTES), US_DRILL_NOTHING);
        ck_assert_int_eq(us_drill_run_over(&stops, key), i % 12 == 11 ? US_DRILL_DONE : US_DRILL_NEXT);
        enum us_drill_news news = play(&runs, shift, TUNE_NOTES);
        if (i == 0) news = us_drill_run_over(&runs, key);
        next += news == US_DRILL_NEXT;
        done += news == US_DRILL_DONE;
    }
    ck_assert_int_eq(next, 22);
    ck_assert_int_eq(done, 1);
    ck_assert_int_eq(us_drill_run_over(&runs, (struct us_key){5, US_MODE_MAJOR}), US_DRILL_DONE);
}
END_TEST

int main(void)
{
    const TTest *const TESTS[] = {
        drill_words,
        drill_round_the_keys,
        drill_without_a_stop,
        drill_again,
        drill_of_one_key_and_of_equal_neighbours,
        drill_through_all_keys,
        drill_is_not_misled,
    };
    return RUN_TESTS("drill", TESTS);
}
