/* Reading tunes with chords, and the words of the programs that learn from them. */
#include "support.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "corpus.h"
#include "program_words.h"

static char folder[] = "/tmp/check_corpus_XXXXXX";

static FILE *made(const char *name)
{
    char path[200];
    snprintf(path, sizeof path, "%s/%s", folder, name);
    FILE *out = fopen(path, "w");
    ck_assert_ptr_nonnull(out);
    return out;
}

static void remove_tune(const char *name)
{
    static const char *const ENDS[] = {"mid", "tsv"};
    for (int i = 0; i < 2; i++) {
        char path[200];
        snprintf(path, sizeof path, "%s/%s.%s", folder, name, ENDS[i]);
        unlink(path);
    }
}

/* Quarter notes one after the other, and what is said of them. */
static void make_tune(const char *name, const char *pitches, const char *labels)
{
    char file[80];
    snprintf(file, sizeof file, "%s.mid", name);
    FILE *out = made(file);
    size_t notes = strlen(pitches), bytes = 8 * notes + 4;
    fwrite("MThd\0\0\0\6\0\0\0\1\0\x60MTrk\0\0", 1, 20, out);
    fputc((int)(bytes >> 8), out);
    fputc((int)(bytes & 255), out);
    for (size_t i = 0; i < notes; i++) {
        const char event[] = {0, (char)0x90, pitches[i], 80, 0x60, (char)0x80, pitches[i], 64};
        fwrite(event, 1, sizeof event, out);
    }
    fwrite("\0\xFF\x2F\0", 1, 4, out);
    fclose(out);
    snprintf(file, sizeof file, "%s.tsv", name);
    out = made(file);
    fputs(labels, out);
    fclose(out);
}

#define LABELS                                                                                               \
    "# meter 3/4\n# tonic_pc 7\n# mode minor\n# upbeat_quarters 1\n# grid_ok "                               \
    "1\n1\t3\t7\tmin\n4\t3\t0\taug\n"

START_TEST(corpus_is_read)
{
    struct corpus corpus;
    struct us_error error;
    make_tune("a", "CGHJLNO", LABELS);
    ck_assert_msg(corpus_load(&corpus, folder, &error) == US_STATUS_OK, "%s", error.text);
    ck_assert_uint_eq(corpus.count, 1);
    const struct corpus_tune *t = &corpus.tunes[0];
    ck_assert_str_eq(t->id, "a");
    ck_assert_uint_eq(t->tune.note_count, 7);
    ck_assert_int_eq(t->tune.notes[1].pitch, 'G');
    ck_assert_double_eq(t->tune.notes[1].at, 1);
    ck_assert_double_eq(t->tune.notes[1].len, 1);
    ck_assert(t->key_sure && t->grid_sure);
    ck_assert_int_eq(t->key.tonic, 7);
    ck_assert_int_eq(t->key.mode, US_MODE_MINOR);
    ck_assert_int_eq(t->tune.metre.top, 3);
    ck_assert_double_eq(t->tune.pickup, 1);
    ck_assert_uint_eq(t->tune.chord_count, 2);
    ck_assert_int_eq(us_chord_at(t->tune.chords, 2, 0).root, US_NO_CHORD);
    ck_assert_int_eq(us_chord_at(t->tune.chords, 2, 3.5).root, 7);
    ck_assert_int_eq(us_chord_at(t->tune.chords, 2, 4).root, 0);
    ck_assert_int_eq(us_chord_at(t->tune.chords, 2, 7).root, US_NO_CHORD);
    corpus_finish(&corpus);
    remove_tune("a");
}
END_TEST

/* What is not labelled is not trusted; what cannot be read is told with its place. */
START_TEST(corpus_labels)
{
    static const struct {
        const char *labels;
        bool key_sure, grid_sure;
        const char *wrong; /* NULL: it is read */
    } CASES[] = {
        {"# tonic_pc 7\n# meter 3/4\n", true, true, NULL},
        {"# meter 3/4\n", false, true, NULL},
        {"# tonic_pc 7\n", true, false, NULL},
        {"# tonic_pc 7\n# meter 3/4\n# key_suspect 1\n# grid_ok 0\n", false, false, NULL},
        {"# tonic_pc 7\n# meter three\n", true, false, NULL},
        {"# meter 3/4\n0\t3\t7\tmaj\n3\tlong\t7\tmaj\n", true, true, "a.tsv:3: no chord"},
        {"0\t3\t7\tmerry\n", true, true, "a.tsv:1: no chord"},
    };
    for (size_t i = 0; i < sizeof CASES / sizeof *CASES; i++) {
        struct corpus corpus;
        struct us_error error;
        make_tune("a", "CGHJLNO", CASES[i].labels);
        enum us_status status = corpus_load(&corpus, folder, &error);
        ck_assert_int_eq(status, CASES[i].wrong ? US_STATUS_BAD_INPUT : US_STATUS_OK);
        if (status) {
            ck_assert_msg(strstr(error.text, CASES[i].wrong), "%s", error.text);
            ck_assert_ptr_null(corpus.tunes);
            continue;
        }
        ck_assert_int_eq(corpus.tunes[0].key_sure, CASES[i].key_sure);
        ck_assert_int_eq(corpus.tunes[0].grid_sure, CASES[i].grid_sure);
        corpus_finish(&corpus);
    }
    remove_tune("a");
}
END_TEST

/* Tunes that open alike, and tunes that share much whatever their openings, are in one fold. */
START_TEST(corpus_folds)
{
    static const char BODY[] = "CEGJHGECGEHJLJHGEC";
    char other[40];
    struct corpus corpus;
    struct us_error error;
    make_tune("a", BODY, LABELS);
    for (int i = 0; i < 12; i++) { /* the same after two notes of its own */
        snprintf(other, sizeof other, "%c%c%s", 'Z' - i, 'A' + 2 * i, BODY);
        make_tune((char[]){(char)('b' + i), 0}, other, LABELS);
    }
    ck_assert_int_eq(corpus_load(&corpus, folder, &error), US_STATUS_OK);
    ck_assert_uint_eq(corpus.count, 13);
    for (size_t i = 1; i < corpus.count; i++)
        ck_assert_int_eq(corpus.tunes[i].fold, corpus.tunes[0].fold);
    corpus_finish(&corpus);
    for (int i = 0; i < 13; i++)
        remove_tune((char[]){(char)('a' + i), 0});
}
END_TEST

START_TEST(corpus_needs_tunes)
{
    struct corpus corpus;
    struct us_error error;
    ck_assert_int_eq(corpus_load(&corpus, folder, &error), US_STATUS_NOT_FOUND);
    ck_assert_ptr_nonnull(strstr(error.text, "no tunes"));
    ck_assert_int_eq(corpus_load(&corpus, "/no/such/folder", &error), US_STATUS_NOT_FOUND);
}
END_TEST

START_TEST(styles_are_hymns_or_not)
{
    ck_assert(corpus_is_hymn(&(struct corpus_tune){.style = "hymn"}));
    ck_assert(corpus_is_hymn(&(struct corpus_tune){.style = "hymns"}));
    ck_assert(!corpus_is_hymn(&(struct corpus_tune){.style = "harbour"}));
}
END_TEST

/* ---- the words of a program */

static const char *name;
static int limit;
static bool folds[CORPUS_FOLDS];
static const struct word WORDS[] = {
    {"FOLDER", WORD_TEXT, .to = &name},
    {"LIMIT", WORD_NUMBER, .optional = true, .low = 1, .high = 500, .to = &limit},
    {"FOLDS", WORD_FOLDS, .optional = true, .to = folds}};

START_TEST(words_are_read)
{
    static const struct {
        const char *words[5];
        int limit;
        const char *folds, *wrong; /* NULL: they are read */
    } CASES[] = {
        {{"x"}, 150, "11000", NULL},
        {{"x", "20"}, 20, "11000", NULL},
        {{"x", "20", "3"}, 20, "00010", NULL},
        {{"x", "500", "0,4"}, 500, "10001", NULL},
        {{NULL}, 150, "11000", "give FOLDER [LIMIT [FOLDS]]"},
        {{"x", "20", "3", "more"}, 150, "11000", "give FOLDER [LIMIT [FOLDS]]"},
        {{"x", "few"}, 150, "11000", "LIMIT: \"few\"; give a whole number from 1 to 500"},
        {{"x", "501"}, 150, "11000", "LIMIT: \"501\""},
        {{"x", "20s"}, 150, "11000", "LIMIT: \"20s\""},
        {{"x", "99999999999999999999"}, 150, "11000", "LIMIT"},
        {{"x", "20", "5"}, 20, "11000", "FOLDS: \"5\"; give folds by their numbers, 0 to 4"},
        {{"x", "20", ","}, 20, "11000", "FOLDS"},
        {{"x", "20", "1x"}, 20, "11000", "FOLDS"},
    };
    for (size_t i = 0; i < sizeof CASES / sizeof *CASES; i++) {
        char *argv[6] = {"program"};
        int argc = 1;
        for (; CASES[i].words[argc - 1]; argc++)
            argv[argc] = (char *)CASES[i].words[argc - 1];
        struct us_error error;
        limit = 150;
        memcpy(folds, (bool[CORPUS_FOLDS]){true, true}, sizeof folds);
        enum us_status status = words_read(WORDS, 3, argc, argv, &error);
        ck_assert_int_eq(status, CASES[i].wrong ? US_STATUS_BAD_INPUT : US_STATUS_OK);
        if (status) ck_assert_msg(strstr(error.text, CASES[i].wrong), "%s", error.text);
        ck_assert_int_eq(limit, CASES[i].limit);
        for (int k = 0; k < CORPUS_FOLDS; k++)
            ck_assert_int_eq(folds[k], CASES[i].folds[k] == '1');
    }
}
END_TEST

START_TEST(what_is_not_written_is_told)
{
    FILE *out = words_open("program", "/dev/full");
    ck_assert_ptr_nonnull(out);
    fputs("a table", out);
    ck_assert(!words_close("program", "/dev/full", out));
    ck_assert_ptr_null(words_open("program", "/no/such/folder/table"));
}
END_TEST

int main(void)
{
    const TTest *const TESTS[] = {corpus_is_read,         corpus_labels,  corpus_folds,
                                  corpus_needs_tunes,     words_are_read, what_is_not_written_is_told,
                                  styles_are_hymns_or_not};
    if (!mkdtemp(folder)) return 1;
    int status = RUN_TESTS("corpus", TESTS);
    rmdir(folder);
    return status;
}
