#include "support.h"

#include <stddef.h>
#include <string.h>

#include "options.h"

struct values {
    bool flag;
    const char *text;
    struct text_list list, rest;
    int choice, whole;
    double number;
    struct us_key key;
    struct us_metre metre;
};

static const char *const CHOICES[] = {"one", "two", NULL};
#define AT(field) offsetof(struct values, field)
static const struct option ROWS[] = {
    {.name = "flag", .type = OPTION_FLAG, .offset = AT(flag), .help = "f"},
    {.name = "text", .type = OPTION_TEXT, .offset = AT(text), .argument = "TEXT", .help = "t"},
    {.name = "list", .type = OPTION_LIST, .offset = AT(list), .argument = "TEXT", .help = "l"},
    {.name = "choice",
     .type = OPTION_CHOICE,
     .offset = AT(choice),
     .choices = CHOICES,
     .fallback = "two",
     .help = "c"},
    {.name = "whole",
     .type = OPTION_INT,
     .offset = AT(whole),
     .argument = "N",
     .low = -5,
     .high = 9,
     .allow_auto = true,
     .fallback = "3",
     .help = "w"},
    {.name = "number",
     .type = OPTION_NUMBER,
     .offset = AT(number),
     .argument = "X",
     .low = 0,
     .high = 2,
     .fallback = "0.5",
     .help = "n"},
    {.name = "key",
     .type = OPTION_KEY,
     .offset = AT(key),
     .argument = "KEY",
     .allow_auto = true,
     .fallback = "auto",
     .help = "k"},
    {.name = "metre",
     .type = OPTION_METRE,
     .offset = AT(metre),
     .argument = "METRE",
     .allow_auto = true,
     .fallback = "3/4",
     .help = "m"},
};
static const struct command COMMAND = {.name = "try",
                                       .summary = "s",
                                       .arguments = "FILE...",
                                       .options = ROWS,
                                       .option_count = sizeof ROWS / sizeof *ROWS,
                                       .settings_size = sizeof(struct values),
                                       .rest_offset = AT(rest)};

static enum us_status parse(struct values *v, struct us_error *error, int argc, char **argv)
{
    bool help = false;
    return options_parse(&COMMAND, argc, argv, v, &help, error);
}

START_TEST(options_defaults)
{
    struct values v;
    struct us_error error;
    ck_assert_int_eq(parse(&v, &error, 0, NULL), US_STATUS_OK);
    ck_assert(!v.flag && !v.text && v.list.count == 0 && v.choice == 1 && v.whole == 3);
    ck_assert(v.key.tonic == US_NO_KEY && v.metre.top == 3 && v.number > 0.49 && v.number < 0.51);
}
END_TEST

START_TEST(options_all_kinds)
{
    char *argv[] = {"--flag",   "--text=a b", "--list",  "x",    "file",     "--list",   "y",
                    "--choice", "one",        "--whole", "auto", "--number", "2",        "--key",
                    "Bb",       "--metre",    "6/8",     "-",    "--",       "--flagged"};
    struct values v;
    struct us_error error;
    ck_assert_int_eq(parse(&v, &error, sizeof argv / sizeof *argv, argv), US_STATUS_OK);
    ck_assert(v.flag && v.choice == 0 && v.whole == AUTO_INT && v.key.tonic == 10 && v.metre.bottom == 8);
    ck_assert_str_eq(v.text, "a b");
    ck_assert_uint_eq(v.list.count, 2);
    ck_assert_str_eq(v.list.items[1], "y");
    ck_assert_uint_eq(v.rest.count, 3);
    ck_assert_str_eq(v.rest.items[1], "-");
    ck_assert_str_eq(v.rest.items[2], "--flagged");
    options_finish(&COMMAND, &v);
}
END_TEST

/* Each refusal names the option and says what to write instead. */
START_TEST(options_refusals)
{
    static const struct {
        const char *word, *value, *names;
    } BAD[] = {
        {"--nothing", NULL, "--help"},      {"--text", NULL, "missing"},
        {"--choice", "three", "one two"},   {"--whole", "10", "from -5 to 9"},
        {"--whole", "1.5", "whole"},        {"--whole", "", "whole"},
        {"--number", "nan", "from 0 to 2"}, {"--number", "auto", "number"},
        {"--key", "H", "write G"},          {"--metre", "3/5", "write 3/4"},
        {"--flag=yes", NULL, "no value"},   {"-x", NULL, "not expected"},
    };
    for (size_t i = 0; i < sizeof BAD / sizeof *BAD; i++) {
        char *argv[] = {(char *)BAD[i].word, (char *)BAD[i].value};
        struct values v;
        struct us_error error;
        ck_assert_int_eq(parse(&v, &error, BAD[i].value ? 2 : 1, argv), US_STATUS_BAD_INPUT);
        ck_assert_msg(strstr(error.text, BAD[i].names), "%s", error.text);
        ck_assert_msg(!strchr(error.text, '\n'), "%s", error.text);
    }
}
END_TEST

int main(void)
{
    const TTest *const TESTS[] = {options_defaults, options_all_kinds, options_refusals};
    return RUN_TESTS("options", TESTS);
}
