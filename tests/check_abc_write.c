/* What we write as abc is read back the same.  Other programs read it in abcjs_outside and abc_outside. */
#include "support.h"

#include "same_tune.h"
#include "undersong/abc.h"

#include <glob.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static char *write_tune(const struct us_tune *tune)
{
    char *text = NULL;
    size_t size;
    struct us_error error = {0};
    FILE *to = open_memstream(&text, &size);
    ck_assert_msg(us_abc_write(tune, 1, to, &error) == US_STATUS_OK, "%s", error.text);
    fclose(to);
    return text;
}

static struct us_tune_file read_text(const char *text)
{
    struct us_tune_file file;
    struct us_error error = {0};
    ck_assert_msg(us_abc_read(text, strlen(text), "t.abc", 0, &file, &error) == US_STATUS_OK, "%s\n%s", text,
                  error.text);
    return file;
}

/* Read, written, read: the same tune; written again: the same text. */
static void expect_round_trip(const char *text)
{
    struct us_tune_file first = read_text(text);
    char *written = write_tune(&first.tune), both[16000];
    struct us_tune_file second = read_text(written);
    snprintf(both, sizeof both, "%s\n--- written as\n%s", text, written);
    expect_same_tune(&first.tune, &second.tune, both);
    char *again = write_tune(&second.tune);
    ck_assert_str_eq(written, again);
    free(again);
    free(written);
    us_tune_file_finish(&first);
    us_tune_file_finish(&second);
}

static void expect_text(const char *text, const char *music)
{
    struct us_tune_file file = read_text(text);
    char *written = write_tune(&file.tune);
    ck_assert_msg(strstr(written, music) != NULL, "%s\nwritten as\n%s\nwanted\n%s", text, written, music);
    free(written);
    us_tune_file_finish(&file);
}

START_TEST(abc_write_as_written)
{
    static const struct {
        const char *text, *music;
    } ROWS[] = {
        {"X:1\nM:4/4\nL:1/4\nK:G\nD|:\"G\"G2 \"D7\"F2|1G4:|2g4|]", "D2|:\"G\"G4 \"D7\"F4|1G8:|2g8|]\n"},
        {"X:1\nM:4/4\nL:1/4\nK:C\n|::C4::|D4||E4|]", "|:C8::|D8||E8|]\n"},
        {"X:1\nM:3/4\nL:1/4\nK:C\n(3CDE(FG)|A5/2B/|^c=cc|", "(3C2D2E2 (F2 G2)|A4- AB|^c2 =c2 =c2|\n"},
        {"X:1\nM:3/4\nL:1/4\nK:C\nA3-|A2c|", "A6-|A4 c2|\n"},
        {"X:1\nM:4/4\nL:1/4\nK:C\n\"C\"c4|C2\"N.C.\"z2|\"F\"c2c2|", "\"C\"c8|C4 \"^N.C.\"z4|\"F\"c4 c4|\n"},
        {"X:1\nM:6/8\nL:1/8\nK:C\nC3[M:3/4][K:Em]F2|G6|", "C3 ^F2|[K:Em][M:3/4]G6|"},
        {"X:1\nM:6/8\nL:1/8\nK:C\nC6|[M:3/4][K:Em]F2G4|", "C6|[K:Em][M:3/4]F2 G4|"},
        {"X:1\nM:6/8\nL:1/8\nK:C\nC5D|", "C3- C2D|"},
        {"X:1\nM:4/4\nL:1/4\nK:Gb\n\"Gb\"GB\"Cb\"cB|", "K:Gb\n\"Gb\"G2 B2 \"Cb\"c2 B2|"},
        {"X:1\nM:4/4\nL:1/4\nK:F#\n\"F#\"FA\"B\"BA|", "K:F#\n\"F#\"F2 A2 \"B\"B2 A2|"},
        {"X:1\nM:4/4\nL:1/4\nK:Ebm\nEGcB|", "K:Ebm\nE2 G2 c2 B2|"},
        {"X:1\nT:5\\% \\& \\\\ caf\\'e\nK:C\nC|", "T:5\\% \\& \\\\ caf\xc3\xa9\n"},
    };
    for (size_t i = 0; i < sizeof ROWS / sizeof *ROWS; i++) {
        expect_text(ROWS[i].text, ROWS[i].music);
        expect_round_trip(ROWS[i].text);
    }
}
END_TEST

/* Seven sharps are written as five flats. */
START_TEST(abc_write_simpler_key)
{
    expect_text("X:1\nM:4/4\nL:1/4\nK:C#\nCEGB|", "K:Db\nD2 F2 A2 c2|");
}
END_TEST

/* A note that would take three sharps, as two are moved up half a step, is another one of the same sound. */
START_TEST(abc_write_two_signs_at_most)
{
    expect_text("X:1\nM:4/4\nL:1/4\nK:C transpose=1\n^^F4|", "^G8|");
}
END_TEST

/* A chord that changes under a held note cuts it; the tie joins it again. */
START_TEST(abc_write_chord_under_note)
{
    struct us_tune_file file = read_text("X:1\nM:4/4\nL:1/4\nK:C\n\"C\"c4|B4|");
    struct us_chord_span chords[] = {{0, 3, {0, US_CHORD_MAJ}}, {3, 5, {7, US_CHORD_DOM7}}};
    file.tune.chords = chords;
    file.tune.chord_count = 2;
    char *written = write_tune(&file.tune);
    ck_assert_msg(strstr(written, "\"C\"c6- \"G7\"c2|B8|"), "%s", written);
    struct us_tune_file back = read_text(written);
    expect_same_tune(&file.tune, &back.tune, written);
    free(written);
    us_tune_file_finish(&file);
    us_tune_file_finish(&back);
}
END_TEST

/* Chords that differ the second time cannot be folded into a repeat: the tune is written out. */
START_TEST(abc_write_unfolds)
{
    struct us_tune_file file = read_text("X:1\nM:2/4\nL:1/4\nK:C\n|:\"C\"CE|\"G7\"DB:|\"C\"C2|]");
    struct us_chord_span *chords = file.chords;
    ck_assert_uint_eq(file.tune.chord_count, 5);
    chords[2].chord = (struct us_chord){9, US_CHORD_MIN};
    char *written = write_tune(&file.tune);
    ck_assert_ptr_null(strchr(strstr(written, "K:") + 2, ':'));
    struct us_tune_file back = read_text(written);
    expect_same_tune(&file.tune, &back.tune, written);
    free(written);
    us_tune_file_finish(&file);
    us_tune_file_finish(&back);
}
END_TEST

/* A tune without bars, as from MIDI: bars by the metre, after the pickup. */
START_TEST(abc_write_without_bars)
{
    static const struct us_note NOTES[] = {{0, 1, 62, 80},
                                           {1, 3, 67, 80},
                                           {4, 1.0 / 3, 69, 80},
                                           {4 + 1.0 / 3, 1.0 / 3, 71, 80},
                                           {4 + 2.0 / 3, 1.0 / 3, 69, 80},
                                           {5, 3.5, 66, 80}};
    struct us_tune tune = {.notes = NOTES,
                           .note_count = 6,
                           .key = {7, US_MODE_MAJOR},
                           .metre = {3, 4},
                           .pickup = 1,
                           .title = "100% new\nline"};
    char *written = write_tune(&tune);
    ck_assert_msg(strstr(written, "T:100\\% new line\nM:3/4\nL:1/8\nK:G\nD2|G6|(3ABA F4-|F3z3|]"), "%s",
                  written);
    free(written);
}
END_TEST

/* Without a metre a bar is as long as what stands in it: 600 quarters of silence are written as whole rests,
   which the reader's bound on a length does not meet. */
START_TEST(abc_write_long_rest)
{
    char text[400] = "X:1\nM:none\nL:1/4\nK:C\nC4|D4 ";
    for (int i = 0; i < 40; i++)
        strcat(text, "z15 ");
    strcat(text, "E4|]");
    expect_round_trip(text);
    struct us_tune_file file = read_text(text);
    char *written = write_tune(&file.tune);
    ck_assert_msg(strstr(written, "z8") && !strstr(written, "z12"), "%s", written);
    free(written);
    us_tune_file_finish(&file);
}
END_TEST

START_TEST(abc_write_demo_songs)
{
    glob_t found;
    ck_assert_int_eq(glob(TEST_SOURCE_DIR "/../demo-songs/*.abc", 0, NULL, &found), 0);
    for (size_t i = 0; i < found.gl_pathc; i++) {
        struct us_tune_file file;
        struct us_error error;
        ck_assert_int_eq(us_tune_load(found.gl_pathv[i], &file, &error), US_STATUS_OK);
        char *written = write_tune(&file.tune);
        expect_round_trip(written);
        struct us_tune_file back = read_text(written);
        expect_same_tune(&file.tune, &back.tune, written);
        ck_assert_uint_eq(file.tune.line_count, back.tune.line_count);
        free(written);
        us_tune_file_finish(&file);
        us_tune_file_finish(&back);
    }
    ck_assert_uint_ge(found.gl_pathc, 8);
    globfree(&found);
}
END_TEST

START_TEST(abc_write_random_tunes)
{
    char text[8000];
    for (unsigned seed = 0; seed < 400; seed++) {
        random_abc(seed, text, sizeof text);
        expect_round_trip(text);
    }
}
END_TEST

int main(void)
{
    const TTest *const TESTS[] = {
        abc_write_as_written,       abc_write_simpler_key, abc_write_two_signs_at_most,
        abc_write_chord_under_note, abc_write_unfolds,     abc_write_long_rest,
        abc_write_without_bars,     abc_write_demo_songs,  abc_write_random_tunes};
    return RUN_TESTS("abc_write", TESTS);
}
