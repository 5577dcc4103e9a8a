/* Shared by the check programs: a main() that runs a table of cases and fails when the count is not as
   expected, and what more than one of them needs. */
#ifndef SUPPORT_H
#define SUPPORT_H

#include <check.h>

/* As ck_assert_msg(), which is slow where it holds. */
#define MUST(holds, ...)                                                                                     \
    do {                                                                                                     \
        if (!(holds)) ck_abort_msg(__VA_ARGS__);                                                             \
    } while (0)

void sleep_ms(int ms);

/* Runs one suite of one case made of `tests`; returns the process exit status. A suite without tests fails.
 */
int run_tests(const char *name, const TTest *const *tests, size_t count);
/* The same with one more case, of `more_count` tests (a loop counts each turn). */
int run_tests_and_case(const char *name, const TTest *const *tests, size_t count, TCase *more,
                       size_t more_count);
#define RUN_TESTS(name, tests) run_tests(name, tests, sizeof(tests) / sizeof *(tests))

#endif
