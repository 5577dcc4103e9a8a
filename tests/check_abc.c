/* The abc reader against the abc standard, version 2.1 (abcnotation.com/wiki/abc:standard:v2.1); the sections
   are named at each row. */
#include "support.h"

#include "undersong/abc.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static void print_notes(const struct us_note *notes, size_t count, char *out, size_t size)
{
    size_t n = 0;
    *out = '\0';
    for (size_t i = 0; i < count && n < size; i++)
        n += (size_t)snprintf(out + n, size - n, "%s%d@%.4g+%.4g", i ? " " : "", notes[i].pitch, notes[i].at,
                              notes[i].len);
}

static struct us_tune_file read_tune(const char *text)
{
    struct us_tune_file file;
    struct us_error error = {0};
    enum us_status status = us_abc_read(text, strlen(text), "t.abc", 0, &file, &error);
    ck_assert_msg(status == US_STATUS_OK, "%s\n%s", text, error.text);
    return file;
}

/* `head` goes between X:1 and K:. */
static void expect_notes(const char *head, const char *music, const char *expected)
{
    char text[2000], got[4000];
    snprintf(text, sizeof text, "X:1\nT:t\n%s\n%s\n", head, music);
    struct us_tune_file file = read_tune(text);
    print_notes(file.tune.notes, file.tune.note_count, got, sizeof got);
    ck_assert_msg(strcmp(got, expected) == 0, "%s\n got %s\nwant %s", text, got, expected);
    us_tune_file_finish(&file);
}

static const char HEAD[] = "L:1/4\nM:4/4\nK:C";

START_TEST(abc_notes)
{
    static const struct {
        const char *music, *notes;
    } ROWS[] = {
        /* 4.1 pitch: C, is below C, c above, c' above that */
        {"C,Cc'", "48@0+1 60@1+1 84@2+1"},
        {"C,', c,", "48@0+1 60@1+1"},
        /* 4.2 accidentals ^ _ = ^^ __ */
        {"^C_D=E^^F__G", "61@0+1 61@1+1 64@2+1 67@3+1 65@4+1"},
        /* 4.3 note lengths: A2 A/2 A/ A3/2 A// */
        {"A2 A/2 A/ A3/2 A//", "69@0+2 69@2+0.5 69@2.5+0.5 69@3+1.5 69@4.5+0.25"},
        /* 4.4 broken rhythm: a>b a<b a>>b a>>>b */
        {"A>B", "69@0+1.5 71@1.5+0.5"},
        {"A<B", "69@0+0.5 71@0.5+1.5"},
        {"A>>B", "69@0+1.75 71@1.75+0.25"},
        {"A<<<B", "69@0+0.125 71@0.125+1.875"},
        {"A2 > B2", "69@0+3 71@3+1"},
        {"A>z B", "69@0+1.5 71@2+1"},
        /* 4.5 rests: z and x take time, y does not; Z is whole bars */
        {"Az2 Bx cyd", "69@0+1 71@3+1 72@5+1 74@6+1"},
        {"Z2 | A", "69@8+1"},
        /* 4.2, 11.3 accidentals until the bar line, in every octave by default */
        {"^C C c | C", "61@0+1 61@1+1 73@2+1 60@3+1"},
        {"^C =C C", "61@0+1 60@1+1 60@2+1"},
        /* 4.11 ties join notes of the same pitch, over the bar line as well; slurs do not */
        {"A-A B", "69@0+2 71@2+1"},
        {"A3-|A B", "69@0+4 71@4+1"},
        {"^F3-|F F", "66@0+4 65@4+1"},
        {"(A A)", "69@0+1 69@1+1"},
        {"A-B", "69@0+1 71@1+1"},
        /* 4.13 tuplets: (3 three in the time of two; (2 two in three; (4 four in three; (p:q:r */
        {"(3ABc d", "69@0+0.6667 71@0.6667+0.6667 72@1.333+0.6667 74@2+1"},
        {"(2AB c", "69@0+1.5 71@1.5+1.5 72@3+1"},
        {"(5ABABA c", "69@0+0.4 71@0.4+0.4 69@0.8+0.4 71@1.2+0.4 69@1.6+0.4 72@2+1"},
        {"(3:2:2A2B c", "69@0+1.333 71@1.333+0.6667 72@2+1"},
        {"(3::2A2B c", "69@0+1.333 71@1.333+0.6667 72@2+1"},
        {"(3zAB c", "69@0.6667+0.6667 71@1.333+0.6667 72@2+1"},
        /* 4.12 grace notes take no time here */
        {"{gf}A {/g}B", "69@0+1 71@1+1"},
        /* 4.14 to 4.16 decorations */
        {"!trill!A .B ~c uA !f!B", "69@0+1 71@1+1 72@2+1 69@3+1 71@4+1"},
        /* 4.17 chords: the top note is the melody; the first note's length is the chord's */
        {"[CEG]2 [EC]", "67@0+2 64@2+1"},
        {"[C2E2] [C/E/]", "64@0+2 64@2+0.5"},
        {"[CE]-[CE] A", "64@0+2 69@2+1"},
        /* 4.18, 4.19 chord symbols and annotations */
        {"\"G7\"A \"^slowly\"B \"_x\"c", "69@0+1 71@1+1 72@2+1"},
        /* 4.8 bar lines of every kind */
        {"A|B||c[|d|]e.|f", "69@0+1 71@1+1 72@2+1 74@3+1 76@4+1 77@5+1"},
        /* 4.9 repeats */
        {"A|:B:|c", "69@0+1 71@1+1 71@2+1 72@3+1"},
        {"AB:|c", "69@0+1 71@1+1 69@2+1 71@3+1 72@4+1"},
        {"|:A::B:|", "69@0+1 69@1+1 71@2+1 71@3+1"},
        {"|:A:||:B:|", "69@0+1 69@1+1 71@2+1 71@3+1"},
        {"|:A:|:B:|", "69@0+1 69@1+1 71@2+1 71@3+1"},
        {"|::A::|", "69@0+1 69@1+1 69@2+1"},
        /* 4.9, 4.10 endings */
        {"|:A|1B:|2c||d", "69@0+1 71@1+1 69@2+1 72@3+1 74@4+1"},
        {"A|[1B:|[2c|]", "69@0+1 71@1+1 69@2+1 72@3+1"},
        {"|:A[1,3B:|[2C:|[4D|]E", "69@0+1 71@1+1 69@2+1 60@3+1 69@4+1 71@5+1 69@6+1 62@7+1 64@8+1"},
        {"|:A[1-2B:|[3C|]", "69@0+1 71@1+1 69@2+1 71@3+1 69@4+1 60@5+1"},
        {"|:A|1B:|2c:|:d:|", "69@0+1 71@1+1 69@2+1 72@3+1 74@4+1 74@5+1"},
        {"|:A|1B:|2c|:d|1e:|2f|]", "69@0+1 71@1+1 69@2+1 72@3+1 74@4+1 76@5+1 74@6+1 77@7+1"},
        {"c-|:c d:|", "72@0+2 74@2+1 72@3+1 74@4+1"},
        /* 4.14 segno, coda, da capo, dal segno, fine; common practice: no repeats after the jump back */
        {"C|!fine!D|E!D.C.!|", "60@0+1 62@1+1 64@2+1 60@3+1 62@4+1"},
        {"C|D!fine!|E|!D.C.!", "60@0+1 62@1+1 64@2+1 60@3+1 62@4+1"},
        {"C|SD|E!D.S.!|", "60@0+1 62@1+1 64@2+1 62@3+1 64@4+1"},
        {"C|D!dacoda!|E!D.C.!|!coda!F|G|", "60@0+1 62@1+1 64@2+1 60@3+1 62@4+1 65@5+1 67@6+1"},
        {"C|SDO|E!D.S.alcoda!|OF|", "60@0+1 62@1+1 64@2+1 62@3+1 65@4+1"},
        {"|:C|1D:|2E|F!D.C.!|]", "60@0+1 62@1+1 60@2+1 64@3+1 65@4+1 60@5+1 64@6+1 65@7+1"},
        /* 3.2 inline fields */
        {"F[K:G]F[L:1/8]F[M:3/4]F|F", "65@0+1 66@1+1 66@2+0.5 66@2.5+0.5 66@3+0.5"},
        /* 2.2.2, 6.1 remarks, and continued lines */
        {"A B % C D\n% E\n%%stretchlast 1\nc", "69@0+1 71@1+1 72@2+1"},
        {"A>\\\nB", "69@0+1.5 71@1.5+0.5"},
        {"A\nK:G\nF\nw:words here\nM:3/4\nL:1/8\nF\nW:more", "69@0+1 66@1+1 66@2+0.5"},
        /* 2.2.1 an empty line ends the tune */
        {"A\n\nB", "69@0+1"},
        /* 8.1 reserved characters are skipped */
        {"A # * B ; ? @ c", "69@0+1 71@1+1 72@2+1"},
        /* 7.4 an overlay is another voice */
        {"A2 & E2 | B", "69@0+2 71@2+1"},
        /* 7 the first voice is the melody */
        {"V:1\nA|\nV:2\nC|\nV:3\nE|\nV:1\nB|", "69@0+1 71@1+1"},
        {"[V:T1]A|[V:B1]C|[V:T1]B|", "69@0+1 71@1+1"},
    };
    for (size_t i = 0; i < sizeof ROWS / sizeof *ROWS; i++)
        expect_notes(HEAD, ROWS[i].music, ROWS[i].notes);
}
END_TEST

START_TEST(abc_heads)
{
    static const struct {
        const char *head, *music, *notes;
    } ROWS[] = {
        /* 3.1.7 the default unit: 1/16 where the metre is below 0.75, else 1/8 */
        {"M:2/4\nK:C", "C", "60@0+0.25"},
        {"M:3/4\nK:C", "C", "60@0+0.5"},
        {"M:6/8\nK:C", "C", "60@0+0.5"},
        {"M:C|\nK:C", "C", "60@0+0.5"},
        {"K:C", "C", "60@0+0.5"},
        {"M:none\nK:C", "C", "60@0+0.5"},
        /* 3.1.14 keys: modes, explicit accidentals, the bagpipes' scale, none */
        {"L:1/4\nK:G", "F", "66@0+1"},
        {"L:1/4\nK:Em", "F", "66@0+1"},
        {"L:1/4\nK:Emin", "F", "66@0+1"},
        {"L:1/4\nK:Bb", "BE", "70@0+1 63@1+1"},
        {"L:1/4\nK:D Dorian", "FB", "65@0+1 71@1+1"},
        {"L:1/4\nK:A Mixolydian", "FcG", "66@0+1 73@1+1 67@2+1"},
        {"L:1/4\nK:F lydian", "B", "71@0+1"},
        {"L:1/4\nK:E phr", "F", "65@0+1"},
        {"L:1/4\nK:B loc", "FB", "65@0+1 71@1+1"},
        {"L:1/4\nK:C#", "CB", "61@0+1 72@1+1"},
        {"L:1/4\nK:D exp _b ^g", "BGFC", "70@0+1 68@1+1 65@2+1 60@3+1"},
        {"L:1/4\nK:D =c", "CF", "60@0+1 66@1+1"},
        {"L:1/4\nK:HP", "FGc", "66@0+1 67@1+1 73@2+1"},
        {"L:1/4\nK:none", "F", "65@0+1"},
        {"L:1/4\nK:G clef=bass octave=-1", "F", "54@0+1"},
        /* (2 in compound time is 2 in 3; (5 takes the time of 3 there: 4.13 */
        {"L:1/8\nM:6/8\nK:C", "(5ABABA c", "69@0+0.3 71@0.3+0.3 69@0.6+0.3 71@0.9+0.3 69@1.2+0.3 72@1.5+0.5"},
        /* 11.3 how far accidentals reach */
        {"L:1/4\n%%propagate-accidentals not\nK:C", "^CC", "61@0+1 60@1+1"},
        {"L:1/4\n%%propagate-accidentals octave\nK:C", "^CCc", "61@0+1 61@1+1 72@2+1"},
        /* 3.1.8 a metre as a sum */
        {"M:2+3/8\nL:1/8\nK:C", "Z|C", "60@2.5+0.5"},
        /* 3.1.9 order of parts */
        {"L:1/4\nP:A2B\nK:C", "P:A\nC|\nP:B\nD|", "60@0+1 60@1+1 62@2+1"},
        {"L:1/4\nP:(AB)2\nK:C", "P:A\nC|\nP:B\n|:D:|", "60@0+1 62@1+1 62@2+1 60@3+1 62@4+1 62@5+1"},
    };
    for (size_t i = 0; i < sizeof ROWS / sizeof *ROWS; i++)
        expect_notes(ROWS[i].head, ROWS[i].music, ROWS[i].notes);
}
END_TEST

START_TEST(abc_head_values)
{
    static const struct {
        const char *tempo;
        double quarters;
    } ROWS[] = {/* 3.1.8 tempo */
                {"1/4=120", 120},           {"3/8=40", 60},  {"\"Allegro\" 1/4=90", 90},
                {"1/4=90 \"Allegro\"", 90}, {"1/2=60", 120}, {"1/4 3/8 1/4 3/8=40", 200},
                {"\"Andante\"", 0},         {"120", 60}};
    for (size_t i = 0; i < sizeof ROWS / sizeof *ROWS; i++) {
        char text[200];
        snprintf(text, sizeof text, "X:7\nT:Long Quay\nT:second\nC:N. N.\nM:3/4\nL:1/8\nQ:%s\nK:Em\nB2|E6|\n",
                 ROWS[i].tempo);
        struct us_tune_file file = read_tune(text);
        ck_assert_msg(file.tune.quarters_a_minute == ROWS[i].quarters, "%s: %g", ROWS[i].tempo,
                      file.tune.quarters_a_minute);
        ck_assert_str_eq(file.tune.title, "Long Quay");
        ck_assert_str_eq(file.tune.composer, "N. N.");
        ck_assert_int_eq(file.number, 7);
        ck_assert_int_eq(file.tune.key.tonic, 4);
        ck_assert_int_eq(file.tune.key.mode, US_MODE_MINOR);
        ck_assert_int_eq(file.tune.metre.top, 3);
        ck_assert(file.tune.pickup == 1);
        us_tune_file_finish(&file);
    }
}
END_TEST

/* 8.2 text strings: mnemonics, Unicode, escapes; bytes that are no UTF-8 are taken for Latin-1. */
START_TEST(abc_text)
{
    static const struct {
        const char *written, *text;
    } ROWS[] = {{"Caf\\'e", "Caf\xc3\xa9"},
                {"M\\\"uhle \\aa\\ss", "M\xc3\xbchle \xc3\xa5\xc3\x9f"},
                {"\\u0159eka", "\xc5\x99"
                               "eka"},
                {"50\\% off % remark", "50% off"},
                {"salt \\& pepper \\\\ x", "salt & pepper \\ x"},
                {"Qu\xc3\xa4y", "Qu\xc3\xa4y"},
                {"Qu\xe4y", "Qu\xc3\xa4y"},
                {"a \\q b", "a \\q b"}};
    for (size_t i = 0; i < sizeof ROWS / sizeof *ROWS; i++) {
        char text[200];
        snprintf(text, sizeof text, "X:1\nT:%s\nK:C\nC\n", ROWS[i].written);
        struct us_tune_file file = read_tune(text);
        ck_assert_str_eq(file.tune.title, ROWS[i].text);
        us_tune_file_finish(&file);
    }
}
END_TEST

/* A broken rhythm moves the next note, and the chord symbol that was read before its sign goes with it. */
START_TEST(abc_chords_in_broken_rhythm)
{
    struct us_tune_file file = read_tune("X:1\nM:2/4\nL:1/4\nK:C\nC\"G\"<\"D7\"D|C\"F\">D|\n");
    ck_assert_uint_eq(file.tune.chord_count, 2);
    ck_assert(file.tune.chords[0].at == 0.5 && file.tune.chords[0].chord.root == 2);
    ck_assert(file.tune.chords[1].at == 3.5 && file.tune.chords[1].chord.root == 5);
    us_tune_file_finish(&file);
}
END_TEST

/* Each chord lasts until the next, over repeats as well; words are no chords (4.18, 4.19). */
START_TEST(abc_chords)
{
    struct us_tune_file file =
        read_tune("X:1\nL:1/4\nM:4/4\nK:G\nD|:\"G\"GABc|\"D7\"d2\"^hold\"\"Em/B\"B2:|\"N.C.\"A4|\"C\"G4|");
    static const struct us_chord_span WANT[] = {{1, 4, {7, US_CHORD_MAJ}},   {5, 2, {2, US_CHORD_DOM7}},
                                                {7, 2, {4, US_CHORD_MIN}},   {9, 4, {7, US_CHORD_MAJ}},
                                                {13, 2, {2, US_CHORD_DOM7}}, {15, 2, {4, US_CHORD_MIN}},
                                                {21, 4, {0, US_CHORD_MAJ}}};
    ck_assert_uint_eq(file.tune.chord_count, 7);
    for (size_t i = 0; i < 7; i++) {
        ck_assert(file.tune.chords[i].at == WANT[i].at && file.tune.chords[i].len == WANT[i].len);
        ck_assert(us_chord_equal(file.tune.chords[i].chord, WANT[i].chord));
    }
    us_tune_file_finish(&file);
}
END_TEST

START_TEST(abc_as_written)
{
    struct us_tune_file file =
        read_tune("X:1\nL:1/4\nM:3/4\nK:F\nC|:(FG)A|1 B2A:|2 ^c3||\n[M:2/4]d2|]\nV:2\nz|F3|G3|A3|F2|\n");
    static const struct {
        double at, len;
        unsigned written, endings, times, from, closes, top;
    } WANT[] = {{0, 1, 0, 0, 0, 0, 0, 3}, {1, 3, 1, 0, 0, 1, 0, 3},  {4, 3, 2, 2, 2, 0, 0, 3},
                {7, 3, 1, 0, 0, 1, 0, 3}, {10, 3, 3, 4, 0, 0, 1, 3}, {13, 2, 4, 0, 0, 0, 1, 2}};
    ck_assert_uint_eq(file.tune.bar_count, 6);
    for (size_t i = 0; i < 6; i++) {
        const struct us_bar *bar = &file.tune.bars[i];
        ck_assert(bar->at == WANT[i].at && bar->len == WANT[i].len && bar->written == WANT[i].written);
        ck_assert(bar->endings == WANT[i].endings && bar->repeat_times == WANT[i].times);
        ck_assert(bar->repeat_from == WANT[i].from && bar->closes == WANT[i].closes);
        ck_assert(bar->metre.top == WANT[i].top && bar->key.tonic == 5);
    }
    ck_assert_uint_eq(file.tune.slur_count, 2);
    ck_assert(file.tune.slurs[1].at == 7 && file.tune.slurs[1].len == 2);
    ck_assert_uint_eq(file.tune.line_count, 2);
    ck_assert(file.tune.lines[0] == 0 && file.tune.lines[1] == 13);
    char second[200];
    print_notes(file.tune.second, file.tune.second_count, second, sizeof second);
    ck_assert_str_eq(second, "65@1+3 67@4+3 65@7+3 69@10+3 65@13+2");
    /* B-flat is two fifths below C, C-sharp seven above. */
    ck_assert_int_eq(file.tune.spelling[4], -2);
    ck_assert_int_eq(file.tune.spelling[9], 7);
    us_tune_file_finish(&file);
}
END_TEST

START_TEST(abc_songbook)
{
    static const char BOOK[] =
        "%abc-2.1\nL:1/4\n\nX:3\nT:One\nK:C\nC\n\nfree text\n\nX:8\nT: Two\nK:G\nF\nX:9\nK:D\nC\n";
    struct us_tune_file file;
    struct us_tune_entry *list;
    struct us_error error;
    size_t count;
    ck_assert_int_eq(us_abc_list(BOOK, strlen(BOOK), "b.abc", &list, &count, &error), US_STATUS_OK);
    ck_assert_uint_eq(count, 3);
    ck_assert_int_eq(list[1].number, 8);
    ck_assert_str_eq(list[1].title, "Two");
    free(list);
    static const struct {
        int number, pitch;
    } ROWS[] = {{0, 60}, {3, 60}, {8, 66}, {9, 61}};
    for (size_t i = 0; i < 4; i++) {
        ck_assert_int_eq(us_abc_read(BOOK, strlen(BOOK), "b.abc", ROWS[i].number, &file, &error),
                         US_STATUS_OK);
        ck_assert_uint_eq(file.tune.note_count, 1);
        ck_assert_int_eq(file.tune.notes[0].pitch, ROWS[i].pitch);
        ck_assert(file.tune.notes[0].len == 1);
        us_tune_file_finish(&file);
    }
    ck_assert_int_eq(us_abc_read(BOOK, strlen(BOOK), "b.abc", 4, &file, &error), US_STATUS_NOT_FOUND);
    ck_assert_ptr_nonnull(strstr(error.text, "4"));
}
END_TEST

/* Each mistake is named with the line where it is. */
START_TEST(abc_mistakes)
{
    static const struct {
        const char *text;
        int line;
    } ROWS[] = {
        {"X:1\nT:t\nM:4/4\nL:1/4\nK:C\nCDEF|\nGAB\xc3\xa7|\nCDEF|]\n", 7},
        {"X:1\nK:C\nCD\"G7EF|\n", 3},
        {"X:1\nK:H\nCDEF|\n", 2},
        {"X:1\nM:3/0\nK:C\nC\n", 2},
        {"X:1\nM:4:4\nK:C\nC\n", 2},
        {"X:1\nL:eighth\nK:C\nC\n", 2},
        {"X:1\nQ:fast\nK:C\nC\n", 2},
        {"X:1\nT:t\nCDEF|\n", 3},
        {"X:1\nK:C\n\n", 3},
        {"X:1\nK:C\n", 2},
        {"X:1\nK:C\nC[CE|\n", 3},
        {"X:1\nK:C\nC{CE|\n", 3},
        {"X:1\nK:C\nCD\n>C\n[K:Q]D\n", 5},
        {"X:1\nK:C\n>C\n", 3},
        {"X:1\nK:C\nCD|\n^|\n", 4},
        {"X:1\nK:C\nC0\n", 3},
        {"X:1\nK:C\nC99999999999999999999\n", 3},
        {"X:1\nK:C\n(99:1:1C\n", 3},
        {"X:1\nK:C\n(C''''''''''\n", 3},
        {"X:1\nK:C\nC,,,,,,,,,,,\n", 3},
        {"X:1\nK:C\nC:|\nD : E\n", 4},
        {"X:1\nK:C\n-C\n", 3},
        {"X:1\nK:C\n|:C|[99 D:|\n", 3},
        {"", 1},
        {"nothing of the kind", 1},
    };
    for (size_t i = 0; i < sizeof ROWS / sizeof *ROWS; i++) {
        struct us_tune_file file;
        struct us_error error = {0};
        char where[20];
        snprintf(where, sizeof where, "t.abc:%d: ", ROWS[i].line);
        enum us_status status = us_abc_read(ROWS[i].text, strlen(ROWS[i].text), "t.abc", 0, &file, &error);
        ck_assert_msg(status == US_STATUS_BAD_INPUT, "%s", ROWS[i].text);
        ck_assert_msg(strncmp(error.text, where, strlen(where)) == 0, "%s\nwanted %s got %s", ROWS[i].text,
                      where, error.text);
        ck_assert_ptr_null(strchr(error.text, '\n'));
        ck_assert_ptr_nonnull(strchr(error.text, ';'));
        ck_assert_ptr_null(file.notes);
    }
}
END_TEST

/* What a short file may blow up to stays bounded. */
START_TEST(abc_bounds)
{
    enum { SIZE = 1 << 20 };
    char *text = malloc(SIZE);
    struct us_tune_file file;
    struct us_error error;
    strcpy(text, "X:1\nK:C\n");
    size_t n = strlen(text);
    while (n + 80 < SIZE)
        n += (size_t)snprintf(text + n, SIZE - n, "%s", n % 64 ? "C" : "C|\n");
    ck_assert_int_eq(us_abc_read(text, n, "t.abc", 0, &file, &error), US_STATUS_BAD_INPUT);
    ck_assert_ptr_nonnull(strstr(error.text, "more than 100000 notes"));
    strcpy(text, "X:1\nP:(((((A99)99)99)99)99)\nK:C\nP:A\n|::::::::");
    for (int i = 0; i < 900; i++)
        strcat(text, "C|");
    strcat(text, "C::::::::|\n");
    ck_assert_int_eq(us_abc_read(text, strlen(text), "t.abc", 0, &file, &error), US_STATUS_BAD_INPUT);
    ck_assert_ptr_nonnull(strstr(error.text, "repeats"));
    free(text);
}
END_TEST

/* Cases that fuzzing found. */
START_TEST(abc_found_by_fuzzing)
{
    static const char SILENT[] = "X:1\nP:B\nK:C\nP:A\nF2|4G\nP:B\n"; /* a part that plays nothing */
    struct us_tune_file file;
    struct us_error error = {0};
    ck_assert_int_eq(us_abc_read(SILENT, strlen(SILENT), "t.abc", 0, &file, &error), US_STATUS_BAD_INPUT);
    ck_assert_ptr_nonnull(strstr(error.text, "P: line"));
    static const char FAST[] = "X:1\nQ:3/8=7613\nK:C\nC\n"; /* in quarters more than can be written */
    ck_assert_int_eq(us_abc_read(FAST, strlen(FAST), "t.abc", 0, &file, &error), US_STATUS_BAD_INPUT);
    ck_assert_ptr_nonnull(strstr(error.text, "no tempo"));
    char long_ago[300] =
        "X:1\nP:(A9)9\nL:1/1\nM:none\nK:C\nP:A\n"; /* played out longer than may be written */
    for (int i = 0; i < 15; i++)
        strcat(long_ago, "C100 ");
    strcat(long_ago, "|\n");
    ck_assert_int_eq(us_abc_read(long_ago, strlen(long_ago), "t.abc", 0, &file, &error), US_STATUS_BAD_INPUT);
    ck_assert_ptr_nonnull(strstr(error.text, "repeats"));
    expect_notes("C:|: a name like a bar line\nL:1/4\nM:4/4\nK:C", "C", "60@0+1");
}
END_TEST

int main(void)
{
    const TTest *const TESTS[] = {
        abc_notes,      abc_heads,    abc_head_values, abc_chords, abc_chords_in_broken_rhythm, abc_text,
        abc_as_written, abc_songbook, abc_mistakes,    abc_bounds, abc_found_by_fuzzing};
    return RUN_TESTS("abc", TESTS);
}
