/* Tunes by file type: what is read from which file, what a songbook holds, what is refused. */
#include "support.h"

#include "undersong/file_save.h"
#include "undersong/musicxml.h"
#include "undersong/smf_writer.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

static const char ABC[] =
    "X:4\nT:Low Water\nM:2/4\nL:1/8\nK:G\nG2B2|d4|]\n\nX:9\nT:High Water\nM:3/4\nL:1/4\nK:F\nFAc|\n";

static char folder[] = "/tmp/check-tune-XXXXXX";

static const char *save(const char *name, const void *bytes, size_t size)
{
    static char path[100];
    struct us_error error;
    snprintf(path, sizeof path, "%s/%s", folder, name);
    ck_assert_int_eq(us_file_save(path, bytes, size, 0600, &error), US_STATUS_OK);
    return path;
}

static void start(void)
{
    snprintf(folder, sizeof folder, "/tmp/check-tune-XXXXXX");
    ck_assert_ptr_nonnull(mkdtemp(folder));
}

static void finish(void)
{
    char command[100];
    snprintf(command, sizeof command, "rm -r %s", folder);
    ck_assert_int_eq(system(command), 0);
}

static void expect_pitches(const char *path, int number, int first, size_t count)
{
    struct us_tune_file file;
    struct us_error error = {0};
    ck_assert_msg(us_tune_load_number(path, number, &file, &error) == US_STATUS_OK, "%s", error.text);
    ck_assert_uint_eq(file.tune.note_count, count);
    ck_assert_int_eq(file.tune.notes[0].pitch, first);
    us_tune_file_finish(&file);
    us_tune_file_finish(&file);
    ck_assert_ptr_null(file.notes);
}

/* The same tune in each form, under the form's name and under one that says nothing. */
static void expect_form(const char *name, const void *bytes, size_t size)
{
    expect_pitches(save(name, bytes, size), 0, 67, 3);
    expect_pitches(save("tune", bytes, size), 0, 67, 3);
}

static void *smf_bytes(size_t *size)
{
    struct us_smf_writer *writer = us_smf_writer_create(480);
    static const uint8_t PITCHES[] = {67, 71, 74};
    int track = us_smf_writer_track(writer, "melody");
    uint8_t *bytes;
    struct us_error error;
    for (int i = 0; i < 3; i++) {
        us_smf_writer_message(writer, track, i * 480,
                              (struct us_midi_message){US_MIDI_NOTE_ON, PITCHES[i], 80});
        us_smf_writer_message(writer, track, i * 480 + 480,
                              (struct us_midi_message){US_MIDI_NOTE_OFF, PITCHES[i], 64});
    }
    ck_assert_int_eq(us_smf_writer_bytes(writer, &bytes, size, &error), US_STATUS_OK);
    us_smf_writer_destroy(writer);
    return bytes;
}

START_TEST(tune_file_forms)
{
    struct us_tune_file file;
    struct us_error error;
    size_t size;
    char *score = NULL;
    void *packed;
    start();
    expect_form("tune.abc", ABC, strlen(ABC));
    ck_assert_int_eq(us_tune_load(save("tune.ABC", ABC, strlen(ABC)), &file, &error), US_STATUS_OK);
    FILE *to = open_memstream(&score, &size);
    ck_assert_int_eq(us_musicxml_write(&file.tune, to, &error), US_STATUS_OK);
    fclose(to);
    expect_form("tune.musicxml", score, size);
    expect_form("tune.xml", score, size);
    ck_assert_int_eq(us_mxl_bytes(&file.tune, &packed, &size, &error), US_STATUS_OK);
    expect_form("tune.mxl", packed, size);
    us_tune_file_finish(&file);
    free(score);
    free(packed);
    void *midi = smf_bytes(&size);
    expect_form("tune.mid", midi, size);
    expect_form("tune.midi", midi, size);
    free(midi);
    finish();
}
END_TEST

START_TEST(tune_file_songbook)
{
    struct us_tune_entry *list;
    struct us_error error;
    size_t count;
    start();
    const char *path = save("book.abc", ABC, strlen(ABC));
    expect_pitches(path, 0, 67, 3);
    expect_pitches(path, 9, 65, 3);
    ck_assert_int_eq(us_tune_list(path, &list, &count, &error), US_STATUS_OK);
    ck_assert_uint_eq(count, 2);
    ck_assert_int_eq(list[0].number, 4);
    ck_assert_str_eq(list[0].title, "Low Water");
    ck_assert_int_eq(list[1].number, 9);
    ck_assert_str_eq(list[1].title, "High Water");
    free(list);
    size_t size;
    void *midi = smf_bytes(&size);
    path = save("one.mid", midi, size);
    ck_assert_int_eq(us_tune_list(path, &list, &count, &error), US_STATUS_OK);
    ck_assert_uint_eq(count, 1);
    free(list);
    free(midi);
    finish();
}
END_TEST

static void expect_refusal(const char *path, int number, enum us_status wanted, const char *part)
{
    struct us_tune_file file;
    struct us_error error = {0};
    ck_assert_int_eq(us_tune_load_number(path, number, &file, &error), wanted);
    ck_assert_int_eq(us_status_exit_code(error.status), 2);
    ck_assert_msg(strncmp(error.text, path, strlen(path)) == 0 && strstr(error.text, part), "%s", error.text);
    ck_assert_ptr_nonnull(strchr(error.text, ';'));
    ck_assert_ptr_null(file.notes);
    us_tune_file_finish(&file);
}

/* A few words that ask for a page of hours. */
START_TEST(tune_file_refuses_hours)
{
    enum { TIMES = 13 }; /* of 4096 beats */
    char text[400] = "X:1\nT:Long\nM:4/4\nL:1/4\nK:C\nC|";
    for (int i = 0; i < TIMES - 1; i++)
        strcat(text, "Z1024|");
    strcat(text, "D|");
    start();
    expect_pitches(save("long.abc", text, strlen(text)), 0, 60, 2);
    strcat(text, "Z1024|D|");
    expect_refusal(save("longer.abc", text, strlen(text)), 0, US_STATUS_BAD_INPUT, "beats long");
    finish();
}
END_TEST

START_TEST(tune_file_refuses)
{
    start();
    expect_refusal("/nowhere/at/all.abc", 0, US_STATUS_NOT_FOUND, "check the name");
    expect_refusal(folder, 0, US_STATUS_BAD_INPUT, "not a file");
    expect_refusal(save("a.abc", ABC, strlen(ABC)), 5, US_STATUS_NOT_FOUND, "number 5");
    expect_refusal(save("b.abc", ABC, 30), 0, US_STATUS_BAD_INPUT, "b.abc:");
    expect_refusal(save("empty.abc", "", 0), 0, US_STATUS_BAD_INPUT, "empty.abc:1:");
    expect_refusal(save("c.mid", "MThd", 4), 0, US_STATUS_BAD_INPUT, "c.mid");
    expect_refusal(save("d.xml", "<a>", 3), 0, US_STATUS_BAD_INPUT, "d.xml:1:");
    expect_refusal(save("e.mxl", "PK\3\4", 4), 0, US_STATUS_BAD_INPUT, "e.mxl");
    expect_refusal(save("f.png", "\x89PNG\r\n", 6), 0, US_STATUS_BAD_INPUT, "no tune that can be read");
    finish();
}
END_TEST

/* The key as it is written; without one, the one that the melody tells; without notes none. */
START_TEST(the_key_of_a_tune)
{
    static const int PITCHES[] = {67, 69, 71, 72, 74, 71, 67, 66, 69, 67}; /* about G, with its F sharp */
    struct us_note notes[sizeof PITCHES / sizeof *PITCHES];
    struct us_tune tune = {.notes = notes, .key = {2, US_MODE_DORIAN}, .title = ""};
    for (size_t i = 0; i < sizeof PITCHES / sizeof *PITCHES; i++)
        notes[i] = (struct us_note){(double)i, 1, (int16_t)PITCHES[i], 80};
    tune.note_count = sizeof PITCHES / sizeof *PITCHES;
    ck_assert(us_key_equal(us_tune_key(&tune), tune.key));
    tune.key.tonic = US_NO_KEY;
    ck_assert(us_key_equal(us_tune_key(&tune), (struct us_key){7, US_MODE_MAJOR}));
    tune.note_count = 0;
    ck_assert_int_eq(us_tune_key(&tune).tonic, US_NO_KEY);
}
END_TEST

int main(void)
{
    const TTest *const TESTS[] = {tune_file_forms, tune_file_songbook, tune_file_refuses,
                                  tune_file_refuses_hours, the_key_of_a_tune};
    us_tune_file_finish(NULL);
    return RUN_TESTS("tune_file", TESTS);
}
