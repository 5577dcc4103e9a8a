/* Where the user's own files lie: by the variables of the XDG Base Directory Specification 0.8, else under
 * the home. */
#include "support.h"

#include "undersong/user_folders.h"

#include <stdlib.h>
#include <string.h>

static void set(const char *variable, const char *value)
{
    if (value)
        setenv(variable, value, 1);
    else
        unsetenv(variable);
}

START_TEST(folders_by_the_specification)
{
    static const struct {
        const char *xdg, *home, *data, *config;
    } ROWS[] = {
        {"/x", "/h", "/x/undersong/n", "/x/undersong/n"},
        {NULL, "/h", "/h/.local/share/undersong/n", "/h/.config/undersong/n"},
        {"", "/h", "/h/.local/share/undersong/n", "/h/.config/undersong/n"},
        {"x/y", "/h", "/h/.local/share/undersong/n", "/h/.config/undersong/n"}, /* relative: not valid */
        {"/x", NULL, "/x/undersong/n", "/x/undersong/n"},
        {NULL, NULL, "", ""},
        {NULL, "", "", ""},
        {NULL, "h", "", ""}};
    for (size_t i = 0; i < sizeof ROWS / sizeof *ROWS; i++) {
        char out[100];
        set("XDG_DATA_HOME", ROWS[i].xdg);
        set("XDG_CONFIG_HOME", ROWS[i].xdg);
        set("HOME", ROWS[i].home);
        ck_assert(us_user_data("n", out, sizeof out) == (*ROWS[i].data != '\0'));
        ck_assert_str_eq(out, ROWS[i].data);
        ck_assert(us_user_config("n", out, sizeof out) == (*ROWS[i].config != '\0'));
        ck_assert_str_eq(out, ROWS[i].config);
        size_t need = strlen(ROWS[i].data) + 1;
        ck_assert(need == 1 || (us_user_data("n", out, need) && !us_user_data("n", out, need - 1) && !*out));
    }
}
END_TEST

int main(void)
{
    const TTest *const TESTS[] = {folders_by_the_specification};
    return RUN_TESTS("user_folders", TESTS);
}
