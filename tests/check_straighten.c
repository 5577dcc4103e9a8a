/* Performances put back on the page they were played from. */
#include "support.h"

#include "undersong/follower.h"
#include "undersong/straighten.h"

#include <glob.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static struct us_tune_file load(const char *path)
{
    struct us_tune_file file;
    struct us_error error = {0};
    ck_assert_msg(us_tune_load(path, &file, &error) == US_STATUS_OK, "%s", error.text);
    return file;
}

/* How many of the steps from note to note have the written length; wrong notes are stepped over. */
static void count_right(const struct us_tune *played, const struct us_tune *page, size_t *right, size_t *all)
{
    size_t i = 0;
    for (size_t j = 0; j + 1 < page->note_count && i + 1 < played->note_count; i++) {
        if (played->notes[i].pitch != page->notes[j].pitch) continue;
        if (played->notes[i + 1].pitch == page->notes[j + 1].pitch) {
            double step = played->notes[i + 1].at - played->notes[i].at;
            *right += fabs(step - (page->notes[j + 1].at - page->notes[j].at)) < 1e-9;
            ++*all;
        }
        j++;
    }
}

/* One wait in each performance may count as a longer note. */
START_TEST(straighten_demo_performances)
{
    glob_t found;
    ck_assert_int_eq(glob(TEST_SOURCE_DIR "/../demo-songs/*.mid", 0, NULL, &found), 0);
    for (size_t i = 0; i < found.gl_pathc; i++) {
        char page_path[400];
        size_t right = 0, all = 0;
        snprintf(page_path, sizeof page_path, "%.*s.abc", (int)strlen(found.gl_pathv[i]) - 4,
                 found.gl_pathv[i]);
        struct us_tune_file played = load(found.gl_pathv[i]), page = load(page_path);
        ck_assert(us_tune_is_free(&played.tune));
        ck_assert(!us_tune_is_free(&page.tune));
        ck_assert_int_eq(us_tune_straighten(&played, NULL), US_STATUS_OK);
        ck_assert(!us_tune_is_free(&played.tune));
        count_right(&played.tune, &page.tune, &right, &all);
        ck_assert_msg(right + 2 >= all && all + 12 > page.tune.note_count, "%s: %zu of %zu", page_path, right,
                      all);
        double rate = played.tune.quarters_a_minute / page.tune.quarters_a_minute;
        ck_assert_msg(rate > 0.93 && rate < 1.07, "%s: tempo %g", page_path, played.tune.quarters_a_minute);
        us_tune_file_finish(&played);
        us_tune_file_finish(&page);
    }
    ck_assert_uint_ge(found.gl_pathc, 8);
    globfree(&found);
}
END_TEST

/* On the page the metre can be found; 2/4 may be taken for 4/4 and 4/4 for 2/4. */
START_TEST(straighten_shows_the_metre)
{
    glob_t found;
    size_t right = 0;
    ck_assert_int_eq(glob(TEST_SOURCE_DIR "/../demo-songs/*.mid", 0, NULL, &found), 0);
    for (size_t i = 0; i < found.gl_pathc; i++) {
        char page_path[400];
        snprintf(page_path, sizeof page_path, "%.*s.abc", (int)strlen(found.gl_pathv[i]) - 4,
                 found.gl_pathv[i]);
        struct us_tune_file played = load(found.gl_pathv[i]), page = load(page_path);
        struct us_metre metre;
        double pickup;
        ck_assert_int_eq(us_tune_straighten(&played, NULL), US_STATUS_OK);
        ck_assert(us_metre_of_tune(played.notes, played.tune.note_count, &metre, &pickup));
        double ratio = us_metre_bar_quarters(metre) / us_metre_bar_quarters(page.tune.metre);
        right += us_metre_beat_quarters(metre) == us_metre_beat_quarters(page.tune.metre) &&
                 (ratio == 1 || ratio == 2 || ratio == 0.5);
        us_tune_file_finish(&played);
        us_tune_file_finish(&page);
    }
    ck_assert_msg(right + 1 >= found.gl_pathc, "%zu of %zu metres", right, found.gl_pathc);
    globfree(&found);
}
END_TEST

/* Notes made from values (twelfths of a quarter) at a quarter that changes by `drift` from note to note. */
static struct us_tune_file make_tune(const int *values, size_t count, double quarter_s, double drift)
{
    struct us_tune_file file = {0};
    double at_s = 0.37;
    file.notes = calloc(count, sizeof *file.notes);
    for (size_t i = 0; i < count; i++) {
        double length_s = values[i] / 12.0 * quarter_s;
        file.notes[i] = (struct us_note){at_s * 2, length_s * 2 * 0.9, 60, 80};
        at_s += length_s;
        quarter_s *= drift;
    }
    file.tune.notes = file.notes;
    file.tune.note_count = count;
    file.tune.quarters_a_minute = 120;
    file.tune.title = "";
    return file;
}

START_TEST(straighten_changing_tempo)
{
    static const int VALUES[] = {12, 12, 6, 6,  12, 18, 6, 24, 12, 12, 4, 4, 4,
                                 12, 9,  3, 12, 6,  6,  6, 6,  36, 12, 6, 6, 24};
    static const struct {
        double quarter_s, drift;
    } ROWS[] = {{0.6, 1}, {0.42, 1.022}, {0.85, 0.98}, {0.55, 1.005}};
    enum { COUNT = sizeof VALUES / sizeof *VALUES };
    for (size_t r = 0; r < sizeof ROWS / sizeof *ROWS; r++) {
        struct us_tune_file file = make_tune(VALUES, COUNT, ROWS[r].quarter_s, ROWS[r].drift);
        ck_assert_int_eq(us_tune_straighten(&file, NULL), US_STATUS_OK);
        for (size_t i = 0; i + 1 < COUNT; i++) {
            double step = file.notes[i + 1].at - file.notes[i].at;
            ck_assert_msg(fabs(step * 12 - VALUES[i]) < 1e-6, "row %zu note %zu: %g twelfths for %d", r, i,
                          step * 12, VALUES[i]);
            ck_assert(fabs(file.notes[i].len - step) < 1e-9);
        }
        us_tune_file_finish(&file);
    }
}
END_TEST

/* A note that was waited for, longer than any value: the wait is no rest, and all around it stays. */
START_TEST(straighten_after_a_wait)
{
    static const int VALUES[] = {12, 12, 6, 6, 12, 12, 6, 6, 12, 12, 12, 6, 6, 24, 12, 12, 6, 6, 12, 12, 24};
    enum { COUNT = sizeof VALUES / sizeof *VALUES, WAITED = 10 };
    struct us_tune_file file = make_tune(VALUES, COUNT, 0.6, 1);
    for (size_t i = WAITED; i < COUNT; i++)
        file.notes[i].at += 2 * 7.3;
    ck_assert_int_eq(us_tune_straighten(&file, NULL), US_STATUS_OK);
    for (size_t i = 0; i + 1 < COUNT; i++) {
        double step = file.notes[i + 1].at - file.notes[i].at;
        ck_assert_msg(fabs(step * 12 - VALUES[i]) < 1e-6, "note %zu: %g twelfths for %d", i, step * 12,
                      VALUES[i]);
    }
    us_tune_file_finish(&file);
}
END_TEST

/* A key let go early is a rest; a small gap is touch. */
START_TEST(straighten_rests)
{
    static const int VALUES[] = {12, 12, 12, 12, 24, 24, 12, 12};
    struct us_tune_file file = make_tune(VALUES, 8, 0.61, 1);
    file.notes[4].len *= 0.3;
    ck_assert_int_eq(us_tune_straighten(&file, NULL), US_STATUS_OK);
    ck_assert(file.notes[3].len == 1 && file.notes[4].len == 0.5 && file.notes[5].at - file.notes[4].at == 2);
    us_tune_file_finish(&file);
}
END_TEST

START_TEST(straighten_leaves_written_music)
{
    static const int VALUES[] = {12, 6, 6, 4, 4, 4, 36};
    struct us_tune_file file = make_tune(VALUES, 7, 0.5, 1);
    for (size_t i = 0; i < 7; i++)
        file.notes[i].at -= 0.74;
    struct us_note before[7];
    memcpy(before, file.notes, sizeof before);
    ck_assert_int_eq(us_tune_straighten(&file, NULL), US_STATUS_OK);
    ck_assert_mem_eq(before, file.notes, sizeof before);
    us_tune_file_finish(&file);
}
END_TEST

int main(void)
{
    const TTest *const TESTS[] = {
        straighten_demo_performances, straighten_shows_the_metre, straighten_changing_tempo,
        straighten_after_a_wait,      straighten_rests,           straighten_leaves_written_music};
    return RUN_TESTS("straighten", TESTS);
}
