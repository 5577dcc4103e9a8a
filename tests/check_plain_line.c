#include "support.h"

#include <stdlib.h>
#include <string.h>

#include "undersong/plain_line.h"
#include "undersong/status.h"

static const struct {
    const char *text, *plain;
} ROWS[] = {
    {"", ""},
    {"Ode", "Ode"},
    {"Caf\xC3\xA9 \xE2\x99\xAD \xF0\x9F\x8E\xB9", "Caf\xC3\xA9 \xE2\x99\xAD \xF0\x9F\x8E\xB9"},
    {"\x1B[2J\x1B]0;x\x07here", " [2J ]0;x here"}, /* clears a terminal and names it */
    {"a\nb\tc\rd\x7F", "a b c d "},
    {"\xC2\x9B"
     "31m",
     " 31m"},                          /* CSI in one character */
    {"\xC2\xA0", "\xC2\xA0"},          /* the first that is no control character */
    {"caf\xE9", "caf?"},               /* Latin-1 */
    {"\xC0\x8A\xED\xA0\x80", "?????"}, /* overlong, half of a surrogate pair */
};

START_TEST(lines_are_plain)
{
    for (size_t i = 0; i < sizeof ROWS / sizeof *ROWS; i++) {
        char out[64], *copy = us_plain_copy(ROWS[i].text);
        ck_assert_str_eq(us_plain_line(ROWS[i].text, out, sizeof out), ROWS[i].plain);
        ck_assert_str_eq(copy, ROWS[i].plain);
        free(copy);
    }
}
END_TEST

START_TEST(characters_are_not_cut)
{
    char out[8];
    ck_assert_str_eq(us_plain_line("123456\xC3\xA9", out, sizeof out), "123456");
    ck_assert_str_eq(us_plain_line("12345\xC3\xA9", out, sizeof out), "12345\xC3\xA9");
    ck_assert_str_eq(us_plain_line("12345678", out, sizeof out), "1234567");
}
END_TEST

START_TEST(errors_are_one_plain_line)
{
    struct us_error error;
    ck_assert_int_eq(us_error_set(&error, US_STATUS_IO, "%s: gone", "a\n\x1B[1mb"), US_STATUS_IO);
    ck_assert_str_eq(error.text, "a  [1mb: gone");
}
END_TEST

int main(void)
{
    const TTest *const TESTS[] = {lines_are_plain, characters_are_not_cut, errors_are_one_plain_line};
    return RUN_TESTS("plain_line", TESTS);
}
