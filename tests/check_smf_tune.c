#include "support.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "undersong/smf_tune.h"
#include "undersong/smf_writer.h"

struct row {
    double at, len;
    int pitch;
};

enum { DIVISION = 960 };

static void add_notes(struct us_smf_writer *writer, int track, int channel, const struct row *rows,
                      size_t count)
{
    for (size_t i = 0; i < count; i++) {
        int64_t on = llround(rows[i].at * DIVISION), off = llround((rows[i].at + rows[i].len) * DIVISION);
        uint8_t pitch = (uint8_t)rows[i].pitch;
        us_smf_writer_message(writer, track, on,
                              (struct us_midi_message){(uint8_t)(0x90 | channel), pitch, 80});
        us_smf_writer_message(writer, track, off,
                              (struct us_midi_message){(uint8_t)(0x80 | channel), pitch, 64});
    }
}

static void tune_of(struct us_smf_writer *writer, struct us_tune_file *file)
{
    uint8_t *bytes;
    size_t size;
    struct us_error error = {0};
    ck_assert_int_eq(us_smf_writer_bytes(writer, &bytes, &size, &error), US_STATUS_OK);
    enum us_status status = us_smf_tune(bytes, size, "tune.mid", file, &error);
    ck_assert_msg(status == US_STATUS_OK, "%s", error.text);
    free(bytes);
    us_smf_writer_destroy(writer);
}

static void check_notes(struct us_tune_file *file, const struct row *rows, size_t count)
{
    ck_assert_uint_eq(file->tune.note_count, count);
    for (size_t i = 0; i < count; i++) {
        ck_assert_double_eq_tol(file->tune.notes[i].at, rows[i].at, 1e-9);
        ck_assert_double_eq_tol(file->tune.notes[i].len, rows[i].len, 1e-9);
        ck_assert_int_eq(file->tune.notes[i].pitch, rows[i].pitch);
    }
    free(file->notes);
    free(file->title);
}

#define COUNT(rows) (sizeof(rows) / sizeof *(rows))

START_TEST(tune_head)
{
    static const struct row NOTES[] = {{0, 1, 67}, {1, 1.0 / 3, 71}, {4.0 / 3, 2.0 / 3, 74}};
    struct us_smf_writer *writer = us_smf_writer_create(DIVISION);
    us_smf_writer_text(writer, 0, 0, US_SMF_TRACK_NAME, "Lantern Row\r");
    us_smf_writer_tempo(writer, 0, 600000);
    us_smf_writer_metre(writer, 0, (struct us_metre){3, 4});
    us_smf_writer_key(writer, 0, (struct us_key){4, US_MODE_MINOR});
    add_notes(writer, us_smf_writer_track(writer, ""), 0, NOTES, COUNT(NOTES));
    struct us_tune_file file;
    tune_of(writer, &file);
    ck_assert_str_eq(file.tune.title, "Lantern Row");
    ck_assert_double_eq_tol(file.tune.quarters_a_minute, 100, 1e-9);
    ck_assert(file.tune.metre.top == 3 && file.tune.metre.bottom == 4);
    ck_assert(us_key_equal(file.tune.key, (struct us_key){4, US_MODE_MINOR}));
    ck_assert_double_lt(file.tune.pickup, 0);
    check_notes(&file, NOTES, COUNT(NOTES));
}
END_TEST

START_TEST(tune_without_a_head)
{
    static const struct row NOTES[] = {{0, 1, 67}};
    struct us_smf_writer *writer = us_smf_writer_create(DIVISION);
    add_notes(writer, 0, 0, NOTES, COUNT(NOTES));
    struct us_tune_file file;
    tune_of(writer, &file);
    ck_assert_int_eq(file.tune.metre.top, 0);
    ck_assert_int_eq(file.tune.key.tonic, US_NO_KEY);
    ck_assert_double_eq(file.tune.quarters_a_minute, 0);
    ck_assert_str_eq(file.tune.title, "");
    check_notes(&file, NOTES, COUNT(NOTES));
}
END_TEST

START_TEST(tune_in_c_may_be_in_any_key)
{
    static const struct row NOTES[] = {{0, 1, 67}};
    for (int mode = US_MODE_MAJOR; mode <= US_MODE_MINOR; mode++) {
        struct us_smf_writer *writer = us_smf_writer_create(DIVISION);
        us_smf_writer_key(writer, 0, (struct us_key){0, (uint8_t)mode});
        add_notes(writer, 0, 0, NOTES, COUNT(NOTES));
        struct us_tune_file file;
        tune_of(writer, &file);
        ck_assert_int_eq(file.tune.key.tonic, mode == US_MODE_MAJOR ? US_NO_KEY : 0);
        check_notes(&file, NOTES, COUNT(NOTES));
    }
}
END_TEST

START_TEST(tune_pickup_from_time_signatures)
{
    static const struct {
        struct us_metre first, second;
        double second_at, pickup;
    } ROWS[] = {{{1, 4}, {3, 4}, 1, 1},
                {{3, 4}, {2, 4}, 19, 1},
                {{4, 4}, {3, 4}, 8, 0},
                {{3, 8}, {6, 8}, 1.5, 1.5},
                {{6, 8}, {2, 4}, 6.5, 0.5}};
    static const struct row NOTES[] = {{0, 1, 67}};
    for (size_t i = 0; i < COUNT(ROWS); i++) {
        struct us_smf_writer *writer = us_smf_writer_create(DIVISION);
        us_smf_writer_metre(writer, 0, ROWS[i].first);
        us_smf_writer_metre(writer, (int64_t)(ROWS[i].second_at * DIVISION), ROWS[i].second);
        add_notes(writer, 0, 0, NOTES, COUNT(NOTES));
        struct us_tune_file file;
        tune_of(writer, &file);
        ck_assert_double_eq_tol(file.tune.pickup, ROWS[i].pickup, 1e-9);
        check_notes(&file, NOTES, COUNT(NOTES));
    }
}
END_TEST

START_TEST(tune_one_voice)
{
    static const struct row PLAYED[] = {
        {0, 1.05, 67}, {0, 1, 60},      /* a third voice below at the same time */
        {1, 1, 65},                     /* reached legato from the note before */
        {2, 2, 72},    {2.5, 0.5, 64},  /* an inner voice under a held note */
        {4, 2, 60},    {5, 1, 67},      /* the melody rises over a held note */
        {7, 0.25, 62}, {7.02, 0.5, 70}, /* a chord not struck quite together */
    };
    static const struct row MELODY[] = {{0, 1, 67}, {1, 1, 65}, {2, 2, 72},
                                        {4, 1, 60}, {5, 1, 67}, {7.02, 0.5, 70}};
    struct us_smf_writer *writer = us_smf_writer_create(DIVISION);
    add_notes(writer, 0, 0, PLAYED, COUNT(PLAYED));
    struct us_tune_file file;
    tune_of(writer, &file);
    ck_assert_uint_eq(file.tune.note_count, COUNT(MELODY));
    for (size_t i = 0; i < COUNT(MELODY); i++) {
        ck_assert_int_eq(file.tune.notes[i].pitch, MELODY[i].pitch);
        ck_assert_double_eq_tol(file.tune.notes[i].at, MELODY[i].at, 0.03);
        ck_assert_double_eq_tol(file.tune.notes[i].len, MELODY[i].len, 0.03);
    }
    free(file.notes);
    free(file.title);
}
END_TEST

/* The part that is named so, else the highest, drums and what plays a few notes only aside. */
START_TEST(tune_finds_the_melody)
{
    static const struct row HIGH[] = {{0, 1, 67}, {1, 1, 69}, {2, 1, 71}, {3, 1, 69}, {4, 1, 67}},
                            LOW[] = {{0, 1, 48}, {1, 1, 50}, {2, 1, 52}, {3, 1, 50}, {4, 1, 48}};
    static const struct row BELL[] = {{0, 1, 100}};
    for (int named = 0; named < 2; named++) {
        struct us_smf_writer *writer = us_smf_writer_create(DIVISION);
        add_notes(writer, us_smf_writer_track(writer, named ? "My Melody" : "bass"), 1, LOW, COUNT(LOW));
        add_notes(writer, us_smf_writer_track(writer, "upper"), 0, HIGH, COUNT(HIGH));
        add_notes(writer, us_smf_writer_track(writer, "drums"), 9, HIGH, COUNT(HIGH));
        add_notes(writer, us_smf_writer_track(writer, "bell"), 3, BELL, COUNT(BELL));
        struct us_tune_file file;
        tune_of(writer, &file);
        check_notes(&file, named ? LOW : HIGH, COUNT(HIGH));
    }
}
END_TEST

/* Played to the file's beat, some 20 ms off: rounded to what was meant. Played freely: left alone. */
START_TEST(tune_played)
{
    static const struct row MEANT[] = {{0, 1, 60}, {1, 0.5, 62},  {1.5, 0.5, 64},   {2, 1, 65},
                                       {3, 1, 67}, {4, 0.75, 65}, {4.75, 0.25, 64}, {5, 2, 62}};
    static const double OFF[] = {0.01, -0.02, 0.015, 0.02, -0.01, 0.02, -0.015, 0.01};
    for (int freely = 0; freely < 2; freely++) {
        struct row played[COUNT(MEANT)];
        for (size_t i = 0; i < COUNT(MEANT); i++) {
            played[i] = MEANT[i];
            played[i].at = fmax(0, freely ? MEANT[i].at * 1.1234 + OFF[i] : MEANT[i].at + OFF[i]);
            if (i + 1 < COUNT(MEANT)) played[i].len *= 0.9;
        }
        struct us_smf_writer *writer = us_smf_writer_create(DIVISION);
        add_notes(writer, 0, 0, played, COUNT(played));
        struct us_tune_file file;
        tune_of(writer, &file);
        if (!freely) {
            check_notes(&file, MEANT, COUNT(MEANT));
            continue;
        }
        for (size_t i = 0; i < COUNT(MEANT); i++)
            ck_assert_double_eq_tol(file.tune.notes[i].at, played[i].at, 0.6 / DIVISION);
        free(file.notes);
        free(file.title);
    }
}
END_TEST

START_TEST(tune_without_notes)
{
    struct us_smf_writer *writer = us_smf_writer_create(DIVISION);
    uint8_t *bytes;
    size_t size;
    struct us_tune_file file;
    struct us_error error = {0};
    ck_assert_int_eq(us_smf_writer_bytes(writer, &bytes, &size, &error), US_STATUS_OK);
    ck_assert_int_eq(us_smf_tune(bytes, size, "empty.mid", &file, &error), US_STATUS_BAD_INPUT);
    ck_assert_ptr_nonnull(strstr(error.text, "no notes"));
    ck_assert_int_eq(us_smf_tune(bytes, 3, "empty.mid", &file, &error), US_STATUS_BAD_INPUT);
    free(bytes);
    us_smf_writer_destroy(writer);
}
END_TEST

int main(void)
{
    const TTest *const TESTS[] = {tune_head,
                                  tune_without_a_head,
                                  tune_in_c_may_be_in_any_key,
                                  tune_pickup_from_time_signatures,
                                  tune_one_voice,
                                  tune_finds_the_melody,
                                  tune_played,
                                  tune_without_notes};
    return RUN_TESTS("smf_tune", TESTS);
}
