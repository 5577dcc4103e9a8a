#include "support.h"

#include <stdio.h>
#include <stdlib.h>
#include <time.h>

void sleep_ms(int ms)
{
    nanosleep(&(struct timespec){.tv_sec = ms / 1000, .tv_nsec = ms % 1000 * 1000000L}, NULL);
}

int run_tests(const char *name, const TTest *const *tests, size_t count)
{
    return run_tests_and_case(name, tests, count, NULL, 0);
}

int run_tests_and_case(const char *name, const TTest *const *tests, size_t count, TCase *more,
                       size_t more_count)
{
    TCase *cases = tcase_create(name);
    tcase_set_timeout(cases, 60);
    for (size_t i = 0; i < count; i++)
        tcase_add_test(cases, tests[i]);
    Suite *suite = suite_create(name);
    suite_add_tcase(suite, cases);
    if (more) suite_add_tcase(suite, more);
    SRunner *runner = srunner_create(suite);
    srunner_run_all(runner, CK_ENV);
    int ran = srunner_ntests_run(runner), failed = srunner_ntests_failed(runner);
    srunner_free(runner);
    if (ran < (int)(count + more_count) || !count) {
        fprintf(stderr, "%s: %d of %zu tests ran\n", name, ran, count + more_count);
        return EXIT_FAILURE;
    }
    return failed ? EXIT_FAILURE : EXIT_SUCCESS;
}
