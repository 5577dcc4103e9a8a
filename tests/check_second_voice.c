#include "support.h"

#include "round_tunes.h"
#include "undersong/second_voice.h"

#include <math.h>
#include <string.h>

static struct us_chord chord_named(const char *symbol)
{
    struct us_chord chord = {US_NO_CHORD, US_CHORD_MAJ};
    ck_assert(*symbol == '-' || us_chord_parse(symbol, &chord));
    return chord;
}

/* Duet lines as duets go: thirds, with a fourth or a sixth at the close (common practice, no source). */
START_TEST(duet_rows)
{
    static const struct {
        const char *key, *chord;
        enum us_second_voice kind;
        int melody;
        bool strong;
        int below;
    } ROWS[] = {
        {"C", "C", US_SECOND_THIRD, 76, true, 72},    /* mi over I: do */
        {"C", "C", US_SECOND_THIRD, 79, true, 76},    /* sol: mi */
        {"C", "C", US_SECOND_THIRD, 72, true, 67},    /* do at the close: sol, a fourth */
        {"C", "C", US_SECOND_THIRD, 72, false, 67},   /* wherever it lies: tunes come to rest there */
        {"C", "G", US_SECOND_THIRD, 74, true, 71},    /* re over V: ti */
        {"C", "G", US_SECOND_THIRD, 79, true, 74},    /* sol over V: re, a fourth (mi is none) */
        {"C", "F", US_SECOND_THIRD, 81, true, 77},    /* la over IV: fa */
        {"C", "F", US_SECOND_THIRD, 72, true, 69},    /* do over IV: la */
        {"C", "C", US_SECOND_THIRD, 77, false, 74},   /* fa in passing: re may stand between do and mi */
        {"C", "-", US_SECOND_THIRD, 72, false, 69},   /* no chord yet: plain thirds */
        {"C", "C", US_SECOND_SIXTH, 76, true, 67},    /* mi: sol, a sixth */
        {"C", "C", US_SECOND_SIXTH, 72, true, 64},    /* do: mi */
        {"C", "C", US_SECOND_SIXTH, 79, true, 76},    /* sol: ti would rub, mi */
        {"C", "G", US_SECOND_SIXTH, 71, true, 62},    /* ti over V: re */
        {"C", "F", US_SECOND_SIXTH, 81, true, 72},    /* la over IV: do */
        {"Am", "E", US_SECOND_THIRD, 71, true, 68},   /* B over E: G sharp, not G */
        {"Am", "E", US_SECOND_THIRD, 76, true, 71},   /* E over E: B */
        {"Am", "Am", US_SECOND_THIRD, 72, true, 69},  /* C over Am: A */
        {"G", "A7", US_SECOND_THIRD, 76, true, 73},   /* E over A7 in G: C sharp */
        {"Bb", "F", US_SECOND_THIRD, 72, false, 69},  /* C in passing over F: A */
        {"Am", "E", US_SECOND_THIRD, 71, false, 68},  /* the same in passing */
        {"Am", "Am", US_SECOND_THIRD, 71, false, 67}, /* but G over A minor */
        {"C", "D", US_SECOND_THIRD, 69, false, 66},   /* la over D: fi */
        {"C", "C", US_SECOND_SIXTH, 77, false, 69},   /* fa: la */
        {"C", "G", US_SECOND_SIXTH, 81, false, 76},   /* la over V: do would rub against ti; mi */
        {"C", "C", US_SECOND_THIRD, 45, true, -1},    /* too low to be a second voice */
        {"C", "F", US_SECOND_THIRD, 45, true, 41},    /* the lowest that there is */
        {"C", "C", US_SECOND_NONE, 72, true, -1},     {"C", "C", US_SECOND_ROUND, 72, true, -1},
        {"C", "C", US_SECOND_SIXTH, 46, true, -1}, /* too low to be a second voice */
    };
    for (size_t i = 0; i < sizeof ROWS / sizeof *ROWS; i++) {
        struct us_key key;
        ck_assert(us_key_parse(ROWS[i].key, &key));
        int below =
            us_duet_below(ROWS[i].kind, ROWS[i].melody, key, chord_named(ROWS[i].chord), ROWS[i].strong);
        ck_assert_msg(below == ROWS[i].below, "row %zu: %d", i, below);
    }
    struct us_key none = {US_NO_KEY, US_MODE_MAJOR};
    ck_assert_int_eq(us_duet_below(US_SECOND_THIRD, 72, none, chord_named("C"), true), -1);
}
END_TEST

static void check_duet(enum us_second_voice kind, int melody, struct us_key key, struct us_chord chord,
                       bool strong)
{
    us_pcset tones = us_chord_tones(chord), scale = us_key_scale(key);
    int below = us_duet_below(kind, melody, key, chord, strong), interval = melody - below;
    if (below < 0) return;
    MUST(interval >= 3 && interval <= 9 && interval != 6, "melody %d below %d", melody, below);
    MUST(us_pcset_has(scale, below) || us_pcset_has(tones, below), "%d is foreign", below);
    bool rubs =
        !us_pcset_has(tones, below) && (us_pcset_has(tones, below + 1) || us_pcset_has(tones, below - 1));
    MUST(!rubs, "key %d chord %d melody %d below %d", key.tonic, chord.root, melody, below);
    if (strong && us_pcset_has(tones, melody))
        MUST(us_pcset_has(tones, below), "%d is not in the chord", below);
}

/* All keys, chords of the key, melody notes: below the melody, in the key or the chord, never a semitone from
   a chord tone, a chord tone on strong beats; and a melody note of the key always gets one. */
START_TEST(duet_rules)
{
    int sung = 0, all = 0;
    for (int tonic = 0; tonic < 12; tonic++)
        for (int mode = 0; mode < US_MODES; mode++)
            for (int root = 0; root < 12; root++)
                for (int kind = 0; kind < US_CHORD_KINDS; kind++)
                    for (int melody = 55; melody < 90; melody++)
                        for (int v = US_SECOND_THIRD; v <= US_SECOND_SIXTH; v++) {
                            struct us_key key = {(int8_t)tonic, (uint8_t)mode};
                            struct us_chord chord = {(int8_t)root, (uint8_t)kind};
                            check_duet((enum us_second_voice)v, melody, key, chord, true);
                            check_duet((enum us_second_voice)v, melody, key, chord, false);
                        }
    for (int tonic = 0; tonic < 12; tonic++)
        for (int role = US_ROLE_I; role <= US_ROLE_V; role++)
            for (int step = 1; step <= 7; step++)
                for (int mode = US_MODE_MAJOR; mode <= US_MODE_MINOR; mode++) {
                    struct us_key key = {(int8_t)tonic, (uint8_t)mode};
                    int melody = 60 + tonic + us_mode_step_semitones((enum us_mode)mode, step);
                    struct us_chord chord = us_chord_primary(key, (enum us_role)role);
                    all++;
                    sung += us_duet_below(US_SECOND_THIRD, melody, key, chord, false) > 0;
                }
    ck_assert_int_eq(sung, all);
}
END_TEST

static struct us_second_moment moment_at(double at)
{
    return (struct us_second_moment){at, 4, {0, US_MODE_MAJOR}, {0, US_CHORD_MAJ}, fmod(at, 2) == 0};
}

/* Key down, key up, legato and two-note grips: one duet note at a time, and each is released. */
START_TEST(duet_follows_the_keys)
{
    static struct us_second s;
    struct us_round_answer out[US_SECOND_ANSWERS_MAX];
    us_second_init(&s, US_SECOND_THIRD, 0);
    struct us_second_moment m = moment_at(0);
    ck_assert_uint_eq(us_second_note_on(&s, &m, 76, 90, out, US_SECOND_ANSWERS_MAX), 1);
    ck_assert(out[0].on && out[0].pitch == 72 && out[0].velocity == 90);
    ck_assert_int_eq(us_second_lowest(&s), 72);
    ck_assert_uint_eq(us_second_note_on(&s, &m, 72, 90, out, US_SECOND_ANSWERS_MAX), 0); /* a lower key: no */
    ck_assert_uint_eq(us_second_note_on(&s, &m, 79, 80, out, US_SECOND_ANSWERS_MAX),
                      2); /* legato: end, begin */
    ck_assert(!out[0].on && out[0].pitch == 72 && out[1].on && out[1].pitch == 76);
    ck_assert_uint_eq(us_second_note_off(&s, &m, 76, out, US_SECOND_ANSWERS_MAX), 0);
    struct us_second_moment later = moment_at(1); /* legato downwards is a new note, not a grip */
    ck_assert_uint_eq(us_second_note_on(&s, &later, 76, 80, out, US_SECOND_ANSWERS_MAX), 2);
    ck_assert(!out[0].on && out[0].pitch == 76 && out[1].on && out[1].pitch == 72);
    ck_assert_uint_eq(us_second_note_off(&s, &later, 79, out, US_SECOND_ANSWERS_MAX), 0);
    later = moment_at(2);
    ck_assert_uint_eq(us_second_note_on(&s, &later, 79, 80, out, US_SECOND_ANSWERS_MAX), 2);
    ck_assert_uint_eq(us_second_note_off(&s, &m, 79, out, US_SECOND_ANSWERS_MAX), 1);
    ck_assert(!out[0].on && out[0].pitch == 76 && us_second_lowest(&s) == -1);
    us_second_note_on(&s, &m, 76, 90, out, US_SECOND_ANSWERS_MAX);
    ck_assert_uint_eq(us_second_silence(&s, false, out, US_SECOND_ANSWERS_MAX), 1);
    ck_assert(isinf(us_second_due(&s)));
}
END_TEST

/* Plays a tune; the position of the first answer, or -1; `sounding` gets what is left ringing at the end. */
static double first_answer(struct us_second *s, const int8_t (*tune)[2], size_t count, int times,
                           int *sounding)
{
    struct us_round_answer out[US_SECOND_ANSWERS_MAX];
    double at = 0, first = -1;
    *sounding = 0;
    for (size_t i = 0; i < count * (size_t)times; i++) {
        const int8_t *note = tune[i % count];
        for (int part = 0; part < 2; part++) {
            struct us_second_moment m = moment_at(at + part * 0.9 * note[1]);
            size_t n = part ? us_second_note_off(s, &m, note[0], out, US_SECOND_ANSWERS_MAX)
                            : us_second_note_on(s, &m, note[0], 80, out, US_SECOND_ANSWERS_MAX);
            for (size_t k = 0; k < n; k++) {
                *sounding += out[k].on ? 1 : -1;
                if (first < 0) first = m.at_quarters;
            }
        }
        at += note[1];
    }
    size_t n = us_second_silence(s, true, out, US_SECOND_ANSWERS_MAX);
    for (size_t k = 0; k < n; k++)
        *sounding += out[k].on ? 1 : -1;
    return first;
}

START_TEST(second_voice_as_a_round)
{
    static struct us_second s;
    int sounding;
    us_second_init(&s, US_SECOND_ROUND, 2);
    ck_assert_double_eq(first_answer(&s, CIRCLE, sizeof CIRCLE / sizeof *CIRCLE, 1, &sounding), 8);
    ck_assert_int_eq(sounding, 0);
    /* Played again from the start, the answer waits for the first phrase again. */
    ck_assert_double_eq(first_answer(&s, CIRCLE, sizeof CIRCLE / sizeof *CIRCLE, 1, &sounding), 8);
    us_second_init(&s, US_SECOND_ROUND, 4);
    ck_assert_double_eq(first_answer(&s, CIRCLE, sizeof CIRCLE / sizeof *CIRCLE, 1, &sounding), 16);
}
END_TEST

/* round:auto by ear: it listens until enough goes together, enters at a phrase's first bar line, or says that
   it fits nowhere. */
START_TEST(second_voice_finds_the_entry)
{
    static struct us_second s;
    int sounding;
    us_second_init(&s, US_SECOND_ROUND, 0);
    ck_assert_int_eq(s.state, US_ROUND_LISTENS);
    double first = first_answer(&s, CIRCLE, sizeof CIRCLE / sizeof *CIRCLE, 2, &sounding);
    ck_assert_int_eq(s.state, US_ROUND_ENTERS);
    ck_assert_int_eq(s.entry_bars, 2);
    ck_assert(first >= 16 && first <= 32 && fmod(first, 8) == 0);
    ck_assert_int_eq(sounding, 0);
    /* Once known it enters after the first phrase. */
    ck_assert_double_eq(first_answer(&s, CIRCLE, sizeof CIRCLE / sizeof *CIRCLE, 1, &sounding), 8);

    us_second_init(&s, US_SECOND_ROUND, 0);
    ck_assert_double_eq(first_answer(&s, STRANGERS, sizeof STRANGERS / sizeof *STRANGERS, 1, &sounding), -1);
    us_second_init(&s, US_SECOND_ROUND, 0);
    unsigned random = 1;
    for (int i = 0; i < 40 * 4; i++) {
        struct us_round_answer out[US_SECOND_ANSWERS_MAX];
        struct us_second_moment m = moment_at(i);
        random = random * 1103515245u + 12345u;
        int pitch = 60 + (int)(random >> 16) % 13;
        us_second_note_on(&s, &m, pitch, 80, out, US_SECOND_ANSWERS_MAX);
        m.at_quarters += 0.9;
        us_second_note_off(&s, &m, pitch, out, US_SECOND_ANSWERS_MAX);
    }
    ck_assert_int_eq(s.state, US_ROUND_FITS_NOWHERE);
}
END_TEST

/* A round that goes over into another tune: the answer falls silent and nothing is left ringing. */
START_TEST(second_voice_gives_an_entry_up)
{
    static struct us_second s;
    int8_t tune[2 * 26 + 5 * 16][2];
    size_t count = sizeof CIRCLE / sizeof *CIRCLE, other = sizeof STRANGERS / sizeof *STRANGERS;
    memcpy(tune, CIRCLE, sizeof CIRCLE);
    memcpy(tune + count, CIRCLE, sizeof CIRCLE);
    for (int i = 0; i < 5; i++)
        memcpy(tune + 2 * count + (size_t)i * other, STRANGERS, sizeof STRANGERS);
    ck_assert_uint_eq(sizeof tune / sizeof *tune, 2 * count + 5 * other);
    int sounding;
    us_second_init(&s, US_SECOND_ROUND, 0);
    ck_assert(first_answer(&s, (const int8_t(*)[2])tune, sizeof tune / sizeof *tune, 1, &sounding) > 0);
    ck_assert_int_eq(sounding, 0);
    ck_assert_int_ne(s.state, US_ROUND_ENTERS);
}
END_TEST

/* An entry that was found is kept where the player stops late in a tune and goes on: nothing is heard yet
   that speaks against it. */
START_TEST(second_voice_keeps_its_entry_over_a_stop)
{
    static struct us_second s;
    struct us_round_answer out[US_SECOND_ANSWERS_MAX];
    int sounding;
    double at = 160;
    us_second_init(&s, US_SECOND_ROUND, 0);
    first_answer(&s, CIRCLE, sizeof CIRCLE / sizeof *CIRCLE, 2, &sounding);
    for (int i = 0; i < 14; i++) {
        struct us_second_moment m = moment_at(at);
        us_second_note_on(&s, &m, CIRCLE[i][0], 80, out, US_SECOND_ANSWERS_MAX);
        at += CIRCLE[i][1];
        ck_assert_int_eq(s.state, US_ROUND_ENTERS);
    }
}
END_TEST

START_TEST(second_voice_of_a_known_tune)
{
    static struct us_second s;
    struct us_round_note notes[64];
    size_t count = sizeof CIRCLE / sizeof *CIRCLE;
    double at = 0;
    int sounding;
    for (size_t i = 0; i < count; i++) {
        notes[i] = (struct us_round_note){.at = at, .len = CIRCLE[i][1], .pitch = (uint8_t)CIRCLE[i][0]};
        at += CIRCLE[i][1];
    }
    us_second_init(&s, US_SECOND_ROUND, 0);
    us_second_know_tune(&s, notes, count, 4);
    ck_assert_int_eq(s.entry_bars, 2);
    ck_assert_double_eq(first_answer(&s, CIRCLE, count, 1, &sounding), 8);
    us_second_init(&s, US_SECOND_ROUND, 3);
    us_second_know_tune(&s, notes, count, 4);
    ck_assert_int_eq(s.entry_bars, 3); /* the player's own choice stands */
    us_second_init(&s, US_SECOND_ROUND, 0);
    us_second_know_tune(&s, notes, 5, 4);
    ck_assert_int_eq(s.state, US_ROUND_FITS_NOWHERE);
    ck_assert_double_eq(first_answer(&s, CIRCLE, count, 2, &sounding), -1); /* and is not looked for again */
    ck_assert_int_eq(s.state, US_ROUND_FITS_NOWHERE);
}
END_TEST

START_TEST(second_voice_begins_nothing_late)
{
    struct us_second s;
    struct us_round_answer out[US_SECOND_ANSWERS_MAX];
    struct us_second_moment moment = {.at_quarters = 0, .bar_quarters = 4};
    us_second_init(&s, US_SECOND_ROUND, 1);
    us_second_note_on(&s, &moment, 60, 80, out, US_SECOND_ANSWERS_MAX);
    moment.at_quarters = 2;
    us_second_note_off(&s, &moment, 60, out, US_SECOND_ANSWERS_MAX);
    moment = (struct us_second_moment){.at_quarters = 3.5, .bar_quarters = 3};
    ck_assert_uint_eq(us_second_note_on(&s, &moment, 62, 80, out, US_SECOND_ANSWERS_MAX), 0);
    ck_assert_uint_eq(us_second_advance(&s, 6.5, 3, out, US_SECOND_ANSWERS_MAX), 1);
    ck_assert(out[0].on && out[0].pitch == 62);
}
END_TEST

START_TEST(second_voice_words)
{
    static const struct {
        const char *text;
        bool good;
        enum us_second_voice kind;
        int bars;
    } ROWS[] = {
        {"none", true, US_SECOND_NONE, 0},
        {"third", true, US_SECOND_THIRD, 0},
        {"sixth", true, US_SECOND_SIXTH, 0},
        {"round:auto", true, US_SECOND_ROUND, 0},
        {"round:1", true, US_SECOND_ROUND, 1},
        {"round:16", true, US_SECOND_ROUND, 16},
        {"round:0", false, 0, 0},
        {"round:17", false, 0, 0},
        {"round:", false, 0, 0},
        {"round:2x", false, 0, 0},
        {"round:-2", false, 0, 0},
        {"round", false, 0, 0},
        {"", false, 0, 0},
        {"fifth", false, 0, 0},
    };
    for (size_t i = 0; i < sizeof ROWS / sizeof *ROWS; i++) {
        enum us_second_voice kind = US_SECOND_NONE;
        int bars = -1;
        ck_assert_msg(us_second_parse(ROWS[i].text, &kind, &bars) == ROWS[i].good, "%s", ROWS[i].text);
        if (ROWS[i].good) ck_assert(kind == ROWS[i].kind && bars == ROWS[i].bars);
    }
}
END_TEST

int main(void)
{
    const TTest *const TESTS[] = {
        duet_rows,
        duet_rules,
        duet_follows_the_keys,
        second_voice_as_a_round,
        second_voice_finds_the_entry,
        second_voice_gives_an_entry_up,
        second_voice_keeps_its_entry_over_a_stop,
        second_voice_of_a_known_tune,
        second_voice_begins_nothing_late,
        second_voice_words,
    };
    return RUN_TESTS("second_voice", TESTS);
}
