#include "support.h"

#include "news.h"

#include <string.h>

/* One is one, and downwards is counted like upwards. */
START_TEST(news_count_in_words)
{
    static const struct {
        int kind, value;
        const char *words;
    } ROWS[] = {
        {US_ACTION_TRANSPOSE, 1, "your keyboard adds 1 half step to its own sound"},
        {US_ACTION_TRANSPOSE, -1, "your keyboard adds -1 half step to its own sound"},
        {US_ACTION_TRANSPOSE, 3, "your keyboard adds 3 half steps to its own sound"},
        {US_ACTION_ROUND, 1, "round: the second voice comes 1 bar after you"},
        {US_ACTION_ROUND, 4, "round: the second voice comes 4 bars after you"},
        {US_ACTION_ROUND, 0, "round: this tune makes no round"},
        {US_ACTION_NOTE_ON, 0, ""},
    };
    static const struct us_snapshot now;
    for (size_t i = 0; i < sizeof ROWS / sizeof *ROWS; i++) {
        struct us_action action = {.kind = (uint8_t)ROWS[i].kind, .value = ROWS[i].value};
        char words[NEWS_SIZE];
        ck_assert_str_eq(news_words(&action, &now, words), ROWS[i].words);
        ck_assert_int_eq(is_news(&action), *ROWS[i].words != 0);
    }
}
END_TEST

START_TEST(first_words_say_how_far_it_sounds)
{
    static const struct {
        int shift;
        const char *words;
    } ROWS[] = {
        {1, "everything sounds 1 half step higher"}, {-2, "everything sounds 2 half steps lower"}, {0, ""}};
    for (size_t i = 0; i < sizeof ROWS / sizeof *ROWS; i++) {
        struct us_snapshot now = {.sound_shift = ROWS[i].shift, .drill_asked = {US_NO_KEY, US_MODE_MAJOR}};
        char words[NEWS_SIZE];
        first_words(&now, words);
        ck_assert_int_eq(strncmp(words, ROWS[i].words, strlen(ROWS[i].words)), 0);
        ck_assert_int_eq(*words != 0, ROWS[i].shift != 0);
    }
}
END_TEST

int main(void)
{
    const TTest *const TESTS[] = {news_count_in_words, first_words_say_how_far_it_sounds};
    return RUN_TESTS("news", TESTS);
}
