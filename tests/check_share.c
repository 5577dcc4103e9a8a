#include "support.h"

#include "undersong/share.h"

#include <string.h>

static const int64_t BAR_NS = 2000000000;
static const struct us_key G_MAJOR = {7, US_MODE_MAJOR};

static struct us_choice choice_of(const char *symbol, const char *other, double probability)
{
    struct us_choice choice = {.chord = {US_NO_CHORD, US_CHORD_MAJ}, .probability = 0.6};
    ck_assert(us_chord_parse(symbol, &choice.chord));
    if (other) {
        ck_assert(us_chord_parse(other, &choice.alternative[0]));
        choice.alternative_probability[0] = probability;
        choice.alternatives = 1;
    }
    return choice;
}

static us_pcset set_of(const int *pitches)
{
    us_pcset set = 0;
    for (; *pitches; pitches++)
        set |= (us_pcset)(1 << *pitches % 12);
    return set;
}

/* Whether it fits and what else would, in the words the player sees.  Common practice, no source. */
START_TEST(share_verdicts)
{
    static const struct {
        const char *expected, *other;
        double probability;
        int played[5];
        enum us_fit fit;
        const char *words;
    } ROWS[] = {
        {"G", NULL, 0, {43, 47, 50}, US_FIT_YES, "G fits"},
        {"G", NULL, 0, {43}, US_FIT_YES, "G fits"},
        {"G", NULL, 0, {43, 50}, US_FIT_YES, "G fits"},
        {"G", NULL, 0, {47, 50}, US_FIT_YES, "G fits"},
        {"G", NULL, 0, {43, 47, 50, 53}, US_FIT_YES, "G fits"}, /* a seventh may be added */
        {"D7", NULL, 0, {50, 54, 57}, US_FIT_YES, "D7 fits"},
        {"D7", NULL, 0, {54, 57}, US_FIT_YES, "D7 fits"},
        {"G", NULL, 0, {50}, US_FIT_THIN, "D alone does not tell the chord: G was expected"},
        {"G", "Em", 0.3, {40, 43, 47}, US_FIT_ALSO, "Em would do too; G was expected"},
        {"G", "Em", 0.1, {40, 43, 47}, US_FIT_NO, "Em does not fit: G does"},
        {"G", "C", 0.2, {45, 49, 52}, US_FIT_NO, "A does not fit: G does, or C"},
        {"G", NULL, 0, {43, 47, 49}, US_FIT_NO, "not C#: G fits"},
        {"G", "C", 0.2, {42, 45}, US_FIT_NO, "not F# and A: G fits, or C"},
        {"G", NULL, 0, {0}, US_FIT_SILENT, ""},
    };
    for (size_t i = 0; i < sizeof ROWS / sizeof *ROWS; i++) {
        struct us_choice choice = choice_of(ROWS[i].expected, ROWS[i].other, ROWS[i].probability);
        struct us_verdict verdict;
        char words[80];
        us_share_judge(set_of(ROWS[i].played), &choice, &verdict);
        ck_assert_msg(verdict.fit == ROWS[i].fit, "row %zu: %d", i, verdict.fit);
        ck_assert_str_eq(us_verdict_words(&verdict, G_MAJOR, words, sizeof words), ROWS[i].words);
    }
}
END_TEST

/* Every primary triad of every key fits itself, and no primary triad of the key passes for another. */
START_TEST(share_primary_triads)
{
    for (int tonic = 0; tonic < 12; tonic++)
        for (int mode = 0; mode < 2; mode++)
            for (int a = US_ROLE_I; a <= US_ROLE_V; a++)
                for (int b = US_ROLE_I; b <= US_ROLE_V; b++) {
                    struct us_key key = {(int8_t)tonic, (uint8_t)mode};
                    struct us_choice choice = {.chord = us_chord_primary(key, (enum us_role)a)};
                    struct us_verdict v;
                    us_share_judge(us_chord_tones(us_chord_primary(key, (enum us_role)b)), &choice, &v);
                    ck_assert_int_eq(v.fit, a == b ? US_FIT_YES : US_FIT_NO);
                    ck_assert(us_chord_equal(v.as, us_chord_primary(key, (enum us_role)b)));
                }
}
END_TEST

/* A bar: the chord is expected at its line, then the learner plays these pitches and lets go. */
static bool bar_of(struct us_share *s, int *bar, const char *symbol, enum us_role role, const int *pitches)
{
    struct us_choice choice = choice_of(symbol, NULL, 0);
    int64_t now = BAR_NS * ++*bar;
    bool judged = us_share_expect(s, now, &choice, role, true);
    for (; pitches && *pitches; pitches++) {
        us_share_note_on(s, now + 20000000, *pitches);
        us_share_note_off(s, *pitches);
    }
    return judged;
}

static const int G_CHORD[] = {43, 47, 50, 0}, D_CHORD[] = {50, 54, 57, 0}, WRONG[] = {44, 49, 0};

START_TEST(share_levels)
{
    struct us_share s;
    int bar = 0;
    static const struct {
        int level;
        bool listens;
        enum us_part alone, beside; /* what the program strikes: the learner silent, playing */
    } ROWS[] = {
        {100, false, US_PART_ALL, US_PART_ALL},    {99, true, US_PART_ALL, US_PART_NOTHING},
        {67, true, US_PART_ALL, US_PART_NOTHING},  {66, true, US_PART_ROOT, US_PART_NOTHING},
        {34, true, US_PART_ROOT, US_PART_NOTHING}, {33, true, US_PART_ROOT, US_PART_ROOT},
        {1, true, US_PART_ROOT, US_PART_ROOT},     {0, true, US_PART_NOTHING, US_PART_NOTHING},
    };
    for (size_t i = 0; i < sizeof ROWS / sizeof *ROWS; i++) {
        us_share_init(&s, ROWS[i].level);
        ck_assert(us_share_listens(&s) == ROWS[i].listens);
        bar_of(&s, &bar, "G", US_ROLE_I, NULL);
        ck_assert_int_eq(us_share_part(&s), ROWS[i].alone);
        bar_of(&s, &bar, "G", US_ROLE_I, G_CHORD);
        ck_assert_msg(us_share_part(&s) == ROWS[i].beside, "level %d", ROWS[i].level);
    }
}
END_TEST

/* Silent while the learner plays; in again at the first bar line after a whole bar without a note. */
START_TEST(share_comes_back_in)
{
    struct us_share s;
    int bar = 0;
    us_share_init(&s, 90);
    bar_of(&s, &bar, "G", US_ROLE_I, NULL);
    ck_assert_int_eq(us_share_part(&s), US_PART_ALL);
    bar_of(&s, &bar, "G", US_ROLE_I, G_CHORD);
    ck_assert_int_eq(us_share_part(&s), US_PART_NOTHING); /* at once */
    bar_of(&s, &bar, "D", US_ROLE_V, D_CHORD);
    ck_assert_int_eq(us_share_part(&s), US_PART_NOTHING);
    bar_of(&s, &bar, "G", US_ROLE_I, NULL); /* the learner leaves this bar out */
    ck_assert_int_eq(us_share_part(&s), US_PART_NOTHING);
    bar_of(&s, &bar, "G", US_ROLE_I, NULL);
    ck_assert_int_eq(us_share_part(&s), US_PART_ALL);
    /* A chord held on through the bars is no dropping out. */
    us_share_note_on(&s, BAR_NS * bar + 50000000, 43);
    for (int i = 0; i < 4; i++)
        bar_of(&s, &bar, "G", US_ROLE_I, NULL);
    ck_assert_int_eq(us_share_part(&s), US_PART_NOTHING);
}
END_TEST

/* Notes a moment before the bar line belong to the chord that begins there. */
START_TEST(share_takes_early_notes)
{
    struct us_share s;
    struct us_choice g = choice_of("G", NULL, 0), d = choice_of("D", NULL, 0);
    us_share_init(&s, 90);
    us_share_expect(&s, BAR_NS, &g, US_ROLE_I, true);
    for (const int *p = G_CHORD; *p; p++)
        us_share_note_on(&s, BAR_NS + 10000000, *p);
    for (const int *p = D_CHORD; *p; p++)
        us_share_note_on(&s, 2 * BAR_NS - 60000000, *p);
    ck_assert(us_share_expect(&s, 2 * BAR_NS, &d, US_ROLE_V, true));
    ck_assert_int_eq(s.last.fit, US_FIT_YES);
    ck_assert(us_share_expect(&s, 3 * BAR_NS, &g, US_ROLE_I, true));
    ck_assert_int_eq(s.last.fit, US_FIT_YES);
    ck_assert(us_chord_equal(s.last.expected, d.chord));
}
END_TEST

static void strike(struct us_share *s, int64_t at_ns, const int *pitches)
{
    for (const int *p = pitches; *p; p++)
        us_share_note_on(s, at_ns, *p);
}

/* On a weak beat another chord passes: the bar's chord may be held on, and notes of the passing one are not
 * wrong. */
START_TEST(share_lets_a_chord_pass)
{
    struct us_choice g = choice_of("G", NULL, 0), d = choice_of("D", NULL, 0);
    for (int row = 0; row < 3; row++) {
        struct us_share s;
        us_share_init(&s, 90);
        us_share_expect(&s, BAR_NS, &g, US_ROLE_I, true);
        strike(&s, BAR_NS, G_CHORD);
        us_share_pass(&s, BAR_NS + BAR_NS / 4, d.chord);
        if (row) strike(&s, BAR_NS + BAR_NS / 4, row == 1 ? D_CHORD : WRONG);
        ck_assert(us_share_expect(&s, 2 * BAR_NS, &g, US_ROLE_I, true));
        ck_assert_int_eq(s.last.fit, row < 2 ? US_FIT_YES : US_FIT_NO);
    }
}
END_TEST

/* In mid-bar the chord changes: the bar's first one held on would do, in the next bar it does not; and what
   goes on need not tell its chord again. */
START_TEST(share_lets_a_chord_be_held_on)
{
    static const int FIFTH[] = {50, 0}; /* D of a broken G */
    struct us_choice g = choice_of("G", NULL, 0), d = choice_of("D", NULL, 0);
    struct us_share s;
    us_share_init(&s, 90);
    us_share_expect(&s, BAR_NS, &g, US_ROLE_I, true);
    strike(&s, BAR_NS, G_CHORD);
    us_share_expect(&s, BAR_NS + BAR_NS / 2, &d, US_ROLE_V, false);
    strike(&s, BAR_NS + BAR_NS / 2, G_CHORD);
    ck_assert(us_share_expect(&s, 2 * BAR_NS, &d, US_ROLE_V, true));
    ck_assert_int_eq(s.last.fit, US_FIT_ALSO);
    ck_assert(us_chord_equal(s.last.as, g.chord));
    strike(&s, 2 * BAR_NS, G_CHORD);
    us_share_expect(&s, 3 * BAR_NS, &g, US_ROLE_I, true);
    ck_assert_int_eq(s.last.fit, US_FIT_NO);
    strike(&s, 3 * BAR_NS, G_CHORD);
    us_share_expect(&s, 3 * BAR_NS + BAR_NS / 2, &g, US_ROLE_I, false);
    strike(&s, 3 * BAR_NS + BAR_NS / 2, FIFTH);
    us_share_expect(&s, 4 * BAR_NS, &g, US_ROLE_I, true);
    ck_assert_int_eq(s.last.fit, US_FIT_YES);
}
END_TEST

/* Who strikes with the first note of a run plays already; who struck long ago does not. */
START_TEST(share_hears_who_strikes_with_the_first_note)
{
    for (int late = 0; late < 2; late++) {
        struct us_share s;
        us_share_init(&s, 90);
        strike(&s, BAR_NS, G_CHORD);
        us_share_rest(&s, BAR_NS + (late ? 1000000000 : 20000000));
        ck_assert_int_eq(us_share_part(&s), late ? US_PART_ALL : US_PART_NOTHING);
    }
}
END_TEST

/* A key whose release never comes, or comes after its run, does not play on: in the next run the program
   comes back in as ever. */
START_TEST(share_forgets_keys_over_a_rest)
{
    for (int late = 0; late < 2; late++) {
        struct us_share s;
        int bar = 0;
        us_share_init(&s, 90);
        bar_of(&s, &bar, "G", US_ROLE_I, NULL);
        us_share_note_on(&s, BAR_NS * bar + 50000000, 43);
        us_share_rest(&s, BAR_NS * ++bar);
        bar_of(&s, &bar, "G", US_ROLE_I, G_CHORD);
        ck_assert_int_eq(us_share_part(&s), US_PART_NOTHING);
        bar_of(&s, &bar, "G", US_ROLE_I, NULL);
        us_share_note_on(&s, BAR_NS * bar + 50000000, 47);
        if (late) us_share_note_off(&s, 43);
        for (int i = 0; i < 3; i++)
            bar_of(&s, &bar, "G", US_ROLE_I, NULL);
        ck_assert_int_eq(us_share_part(&s), US_PART_NOTHING); /* 47 is held */
        us_share_note_off(&s, 47);
        for (int i = 0; i < 2; i++)
            bar_of(&s, &bar, "G", US_ROLE_I, NULL);
        ck_assert_int_eq(us_share_part(&s), US_PART_ALL);
    }
}
END_TEST

/* A key that goes down twice is up after one release. */
START_TEST(share_counts_a_key_once)
{
    struct us_share s;
    int bar = 0;
    us_share_init(&s, 90);
    bar_of(&s, &bar, "G", US_ROLE_I, NULL);
    for (int i = 0; i < 2; i++)
        us_share_note_on(&s, BAR_NS * bar + 50000000, 43);
    us_share_note_off(&s, 43);
    for (int i = 0; i < 2; i++)
        bar_of(&s, &bar, "G", US_ROLE_I, NULL);
    ck_assert_int_eq(us_share_part(&s), US_PART_ALL);
}
END_TEST

/* A chord that is mended just after the bar line takes the notes with it. */
START_TEST(share_follows_a_mended_chord)
{
    struct us_share s;
    struct us_choice g = choice_of("G", NULL, 0), d = choice_of("D", NULL, 0);
    us_share_init(&s, 90);
    us_share_expect(&s, BAR_NS, &g, US_ROLE_I, true);
    for (const int *p = D_CHORD; *p; p++)
        us_share_note_on(&s, 2 * BAR_NS - 30000000, *p);
    us_share_expect(&s, 2 * BAR_NS, &g, US_ROLE_I, true);
    ck_assert(
        !us_share_expect(&s, 2 * BAR_NS + 60000000, &d, US_ROLE_V, false)); /* nothing is left to judge */
    ck_assert(us_share_expect(&s, 3 * BAR_NS, &g, US_ROLE_I, true));
    ck_assert_int_eq(s.last.fit, US_FIT_YES);
    ck_assert(us_chord_equal(s.last.expected, d.chord));
}
END_TEST

/* With all trust: one missed chord is a tenth, dropping out a quarter more, and silence after that costs
 * nothing. */
START_TEST(share_loses_trust_in_steps)
{
    struct us_share s;
    int bar = 0;
    us_share_init(&s, US_SHARE_AUTO);
    for (int i = 0; i < 40; i++)
        bar_of(&s, &bar, "G", US_ROLE_I, G_CHORD);
    bar_of(&s, &bar, "G", US_ROLE_I, NULL); /* the last chord is judged: still all trust */
    ck_assert_int_eq(s.level, 0);
    ck_assert(!bar_of(&s, &bar, "G", US_ROLE_I, NULL)); /* a whole bar was left out */
    ck_assert_int_eq(s.level, 35);
    for (int i = 0; i < 10; i++)
        bar_of(&s, &bar, "G", US_ROLE_I, NULL);
    ck_assert_int_eq(s.level, 35);
    bar_of(&s, &bar, "G", US_ROLE_I, WRONG);
    bar_of(&s, &bar, "G", US_ROLE_I, NULL);
    ck_assert_int_eq(s.level, 55);
}
END_TEST

/* Below a third only the chords that are not got yet are supported: G right twice, D wrong. */
START_TEST(share_supports_what_is_not_got)
{
    struct us_share s;
    int bar = 0;
    us_share_init(&s, 20);
    for (int i = 0; i < 2; i++) {
        bar_of(&s, &bar, "G", US_ROLE_I, G_CHORD);
        bar_of(&s, &bar, "D", US_ROLE_V, i ? WRONG : D_CHORD);
    }
    bar_of(&s, &bar, "G", US_ROLE_I, G_CHORD);
    ck_assert_int_eq(us_share_part(&s), US_PART_NOTHING);
    bar_of(&s, &bar, "D", US_ROLE_V, D_CHORD);
    ck_assert_int_eq(us_share_part(&s), US_PART_ROOT);
    us_share_rest(&s, INT64_MAX); /* what is got stays got over a pause */
    bar_of(&s, &bar, "G", US_ROLE_I, NULL);
    ck_assert_int_eq(us_share_part(&s), US_PART_NOTHING);
}
END_TEST

/* auto: slowly from all to roots, to support, to nothing; a few mistakes undo many successes. */
START_TEST(share_hands_over)
{
    struct us_share s;
    int bar = 0, to_roots = 0, to_nothing = 0;
    us_share_init(&s, US_SHARE_AUTO);
    ck_assert(us_share_listens(&s) && s.level == 100);
    for (int i = 0; i < 40; i++) {
        bar_of(&s, &bar, i % 2 ? "D" : "G", i % 2 ? US_ROLE_V : US_ROLE_I, i % 2 ? D_CHORD : G_CHORD);
        if (s.level > 66) to_roots = i;
        if (s.level > 0) to_nothing = i;
    }
    ck_assert_int_eq(s.level, 0);
    ck_assert(to_roots >= 5 && to_roots <= 10);
    ck_assert(to_nothing >= 15 && to_nothing <= 25);
    for (int i = 0; i < 3; i++)
        bar_of(&s, &bar, "G", US_ROLE_I, WRONG);
    bar_of(&s, &bar, "G", US_ROLE_I, NULL);
    ck_assert(s.level >= 50);
    for (int i = 0; i < 6; i++)
        bar_of(&s, &bar, "G", US_ROLE_I, NULL); /* drops out: the program has it all back */
    ck_assert_int_eq(us_share_part(&s), US_PART_ALL);
    int level = s.level;
    for (int i = 0; i < 20; i++)
        bar_of(&s, &bar, "G", US_ROLE_I, NULL); /* not playing is no further loss */
    ck_assert_int_eq(s.level, level);
}
END_TEST

START_TEST(share_says_nothing_of_those_who_do_not_play)
{
    struct us_share s;
    int bar = 0;
    us_share_init(&s, US_SHARE_AUTO);
    for (int i = 0; i < 20; i++)
        ck_assert(!bar_of(&s, &bar, "G", US_ROLE_I, NULL));
    ck_assert_int_eq(us_share_part(&s), US_PART_ALL);
}
END_TEST

START_TEST(share_words)
{
    static const struct {
        const char *text;
        bool good;
        int level;
    } ROWS[] = {
        {"auto", true, US_SHARE_AUTO},
        {"0", true, 0},
        {"100", true, 100},
        {"37", true, 37},
        {"101", false, 0},
        {"-1", false, 0},
        {"", false, 0},
        {"5x", false, 0},
        {"all", false, 0},
    };
    for (size_t i = 0; i < sizeof ROWS / sizeof *ROWS; i++) {
        int level = 0;
        ck_assert_msg(us_share_parse(ROWS[i].text, &level) == ROWS[i].good, "%s", ROWS[i].text);
        if (ROWS[i].good) ck_assert_int_eq(level, ROWS[i].level);
    }
}
END_TEST

int main(void)
{
    const TTest *const TESTS[] = {
        share_verdicts,
        share_primary_triads,
        share_levels,
        share_comes_back_in,
        share_takes_early_notes,
        share_follows_a_mended_chord,
        share_lets_a_chord_pass,
        share_lets_a_chord_be_held_on,
        share_hears_who_strikes_with_the_first_note,
        share_forgets_keys_over_a_rest,
        share_counts_a_key_once,
        share_loses_trust_in_steps,
        share_supports_what_is_not_got,
        share_hands_over,
        share_says_nothing_of_those_who_do_not_play,
        share_words,
    };
    return RUN_TESTS("share", TESTS);
}
