#include "support.h"

#include "beat_name.h"

#include <string.h>

/* How beats are divided and called in lessons: common practice, no source. */
static const struct {
    double beat;
    const char *words, *figure;
} ROWS[] = {
    {1, "beat 1", "   1"},
    {3.9999, "beat 4", "   4"},
    {2.5, "beat 2, second half", "  2\xC2\xBD"},
    {1.25, "beat 1, second quarter", "  1\xC2\xBC"},
    {4.75, "beat 4, last quarter", "  4\xC2\xBE"},
    {2 + 1 / 3.0, "beat 2, second third", "  2\xE2\x85\x93"},
    {2 + 2 / 3.0, "beat 2, last third", "  2\xE2\x85\x94"},
    {12.5, "beat 12, second half", " 12\xC2\xBD"},
    {2 + 1 / 6.0, "beat 2, just after", "2.17"},
    {2.375, "beat 2, first half", "2.38"},
    {2.625, "beat 2, second half", "2.62"},
    {2 + 5 / 6.0, "beat 2, at its end", "2.83"},
};

START_TEST(beats_are_named_and_read_again)
{
    for (size_t i = 0; i < sizeof ROWS / sizeof *ROWS; i++) {
        char words[BEAT_NAME], figure[BEAT_NAME];
        const char *after;
        double beat;
        ck_assert_str_eq(beat_name(ROWS[i].beat, words), ROWS[i].words);
        ck_assert_str_eq(beat_figure(ROWS[i].beat, 4, figure), ROWS[i].figure);
        strcat(figure, "=IV");
        ck_assert(beat_read(figure, &after, &beat));
        ck_assert_str_eq(after, "=IV");
        ck_assert_double_eq_tol(beat, ROWS[i].beat, 0.01);
    }
}
END_TEST

START_TEST(what_is_no_beat_is_not_read)
{
    const char *after;
    double beat;
    ck_assert(!beat_read("=IV", &after, &beat));
    ck_assert(!beat_read("", &after, &beat));
    ck_assert(beat_read("2", &after, &beat) && !*after);
    ck_assert(beat_read("2\xC2", &after, &beat) && strcmp(after, "\xC2") == 0); /* half a sign */
}
END_TEST

int main(void)
{
    const TTest *const TESTS[] = {beats_are_named_and_read_again, what_is_no_beat_is_not_read};
    return RUN_TESTS("beat-name", TESTS);
}
