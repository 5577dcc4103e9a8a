#include "support.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "undersong/harmony.h"
#include "undersong/harmony_file.h"
#include "undersong/harmony_learn.h"

enum { BARS = 24, NOTES = BARS * 4 };

/* A teacher who puts IV under every step 3, against all habit. */
struct habit {
    struct us_note notes[NOTES];
    struct us_chord_span chords[BARS];
    struct us_tune tune;
    struct us_harmony_lesson lesson;
};

static void make_habit(struct habit *h)
{
    static const int STEPS[4] = {4, 0, 7, 4};
    for (int i = 0; i < NOTES; i++)
        h->notes[i] = (struct us_note){i, 1, (int16_t)(60 + STEPS[i / 4 % 4]), 80};
    for (int bar = 0; bar < BARS; bar++) {
        static const int8_t ROOTS[4] = {5, 0, 7, 5};
        h->chords[bar] = (struct us_chord_span){bar * 4, 4, {ROOTS[bar % 4], US_CHORD_MAJ}};
    }
    h->tune = (struct us_tune){.notes = h->notes,
                               .note_count = NOTES,
                               .chords = h->chords,
                               .chord_count = BARS,
                               .key = {0, US_MODE_MAJOR},
                               .metre = {4, 4},
                               .title = ""};
    h->lesson = (struct us_harmony_lesson){&h->tune, h->tune.key, -1};
}

static double share_of_iv(const struct habit *h, const struct us_harmony_tables *tables)
{
    struct us_harmony_request request = {.tables = tables,
                                         .tune = &h->tune,
                                         .key = h->tune.key,
                                         .metre = h->tune.metre,
                                         .chords = US_CHORDS_PRIMARY,
                                         .ignore_tune_chords = true};
    struct us_harmony_view view;
    struct us_chord_choice out[NOTES];
    void *workspace = malloc(us_harmony_workspace_size(&request));
    us_harmony_tune(&request, workspace, out, NOTES, &view);
    double sum = 0;
    for (size_t t = 0; t < view.beat_count; t++)
        if (t / 4 % 4 == 0) sum += view.beats[t].role[US_ROLE_IV] / BARS;
    free(workspace);
    return sum;
}

START_TEST(harmony_learns_a_teachers_habit)
{
    static struct habit h;
    static struct us_harmony_tables own, again;
    struct us_error error;
    make_habit(&h);
    struct us_harmony_learn_options options = {.epochs = 60, .start = &us_harmony_built_in};
    ck_assert_int_eq(us_harmony_learn(&h.lesson, 1, &options, &own, &error), US_STATUS_OK);
    ck_assert_int_eq(us_harmony_learn(&h.lesson, 1, &options, &again, &error), US_STATUS_OK);
    ck_assert_mem_eq(&own, &again, sizeof own);
    double before = share_of_iv(&h, NULL), after = share_of_iv(&h, &own);
    ck_assert_msg(after > before + 0.02, "%f, then %f", before, after);
}
END_TEST

/* A tune that is at times heard only as far as its first sixteen bars has room for all of it the next time,
   however the times through of the networks end. */
START_TEST(harmony_learns_from_a_long_tune)
{
    enum { TIMES = 8, LONG_NOTES = TIMES * NOTES, MOST_EPOCHS = 4 };
    static struct habit h;
    static struct us_note notes[LONG_NOTES];
    static struct us_harmony_tables own;
    struct us_error error;
    make_habit(&h);
    for (int i = 0; i < LONG_NOTES; i++) {
        notes[i] = h.notes[i % NOTES];
        notes[i].at = i;
    }
    h.tune.notes = notes;
    h.tune.note_count = LONG_NOTES;
    for (int epochs = 1; epochs <= MOST_EPOCHS; epochs++) {
        struct us_harmony_learn_options options = {.epochs = epochs, .start = &us_harmony_built_in};
        ck_assert_int_eq(us_harmony_learn(&h.lesson, 1, &options, &own, &error), US_STATUS_OK);
    }
}
END_TEST

START_TEST(harmony_cannot_learn_from_nothing)
{
    static struct us_harmony_tables own;
    struct us_error error;
    struct us_harmony_learn_options options = {.start = &us_harmony_built_in};
    ck_assert_int_eq(us_harmony_learn(NULL, 0, &options, &own, &error), US_STATUS_BAD_INPUT);
    ck_assert_ptr_null(strchr(error.text, '\n'));
}
END_TEST

START_TEST(harmony_tables_are_read_back_as_they_were_written)
{
    static struct us_harmony_tables back;
    struct us_error error;
    char path[] = "/tmp/check_harmony_XXXXXX";
    int file = mkstemp(path);
    ck_assert_int_ge(file, 0);
    close(file);
    unlink(path);
    ck_assert_int_eq(us_harmony_tables_save(path, &us_harmony_built_in, &error), US_STATUS_OK);
    struct stat known;
    ck_assert(stat(path, &known) == 0 && (known.st_mode & 0777) == 0600); /* nobody else's business */
    ck_assert_int_eq(us_harmony_tables_load(path, &back, &error), US_STATUS_OK);
    static struct habit h;
    make_habit(&h);
    ck_assert_double_eq(share_of_iv(&h, &back), share_of_iv(&h, NULL));
    FILE *out = fopen(path, "r+");
    fputs("undersong harmony tables 9\n", out);
    fclose(out);
    ck_assert_int_eq(us_harmony_tables_load(path, &back, &error), US_STATUS_BAD_INPUT);
    ck_assert_ptr_nonnull(strstr(error.text, path));
    ck_assert_int_eq(truncate(path, 1000), 0);
    ck_assert_int_eq(us_harmony_tables_load(path, &back, &error), US_STATUS_BAD_INPUT);
    unlink(path);
    ck_assert_int_eq(us_harmony_tables_load(path, &back, &error), US_STATUS_NOT_FOUND);
}
END_TEST

int main(void)
{
    const TTest *const TESTS[] = {harmony_learns_a_teachers_habit, harmony_learns_from_a_long_tune,
                                  harmony_cannot_learn_from_nothing,
                                  harmony_tables_are_read_back_as_they_were_written};
    return RUN_TESTS("harmony learn", TESTS);
}
