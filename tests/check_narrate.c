#include "support.h"

#include "narrate.h"

#include <stdlib.h>
#include <string.h>

enum { NONE, THREE, FOUR, SIX };
static const struct us_metre METRES[] = {{0, 0}, {3, 4}, {4, 4}, {6, 8}};

enum { NOWHERE = -9 };

/* One note of the player. */
struct moment {
    int bar; /* or NOWHERE: not known yet */
    double bar_quarters;
    int metre; /* of METRES */
};

static void narrate_moment(struct narrator *n, const struct moment *m, bool knows_tune)
{
    const struct us_event event = {.kind = US_EVENT_NOTE_ON, .pitch = 67, .velocity = 70};
    const struct us_actions none = {.count = 0};
    const struct us_snapshot now = {.key = {7, US_MODE_MAJOR},
                                    .key_sure = 0.9,
                                    .metre = METRES[m->metre],
                                    .bar = m->bar,
                                    .bar_quarters = m->bar_quarters,
                                    .place_known = m->bar != NOWHERE,
                                    .knows_tune = knows_tune,
                                    .drill_asked = {US_NO_KEY, US_MODE_MAJOR}};
    narrate(n, &event, &none, &now);
}

/* What was said, and how many lines spoke of a metre. */
static void ck_told(const char *why, const char *text, const char *said, int times)
{
    int metres = 0;
    for (const char *at = text; (at = strchr(at, '/')); at++)
        metres++;
    MUST(strstr(text, said), "%s: %s not in: %s", why, said, text);
    MUST(metres == times, "%s: %d metres, not %d: %s", why, metres, times, text);
}

START_TEST(a_metre_is_told_when_it_has_held_for_a_bar)
{
    static const struct {
        const char *why;
        int given;
        bool knows_tune;
        struct moment moments[6];
        const char *said;
        int times; /* that a metre was told */
    } ROWS[] = {
        {"a first guess", NONE, false, {{0, 0, FOUR}}, "heard as G major\n", 0},
        {"just short of a bar", NONE, false, {{0, 0, FOUR}, {0, 3.9, FOUR}}, "heard as G major\n", 0},
        {"a whole bar", NONE, false, {{0, 1, FOUR}, {1, 1, FOUR}}, "counted in 4/4\n", 1},
        {"a bar in three", NONE, false, {{0, 0, THREE}, {1, 0, THREE}, {2, 0, THREE}}, "counted in 3/4\n", 1},
        {"guesses to and fro",
         NONE,
         false,
         {{-1, 2.5, SIX}, {0, 1, FOUR}, {0, 1.5, SIX}, {0, 2.5, SIX}, {1, 1, SIX}},
         "heard as G major\n",
         0},
        {"the last of them holds",
         NONE,
         false,
         {{-1, 2.5, SIX}, {0, 1, FOUR}, {0, 1.5, SIX}, {1, 1, SIX}, {1, 1.5, SIX}},
         "counted in 6/8\n",
         1},
        {"the place moved back",
         NONE,
         false,
         {{5, 0, FOUR}, {1, 0, FOUR}, {1, 3, FOUR}},
         "heard as G major\n",
         0},
        {"a first note without a place",
         NONE,
         false,
         {{NOWHERE, 0, FOUR}, {0, 2, FOUR}, {0, 3, FOUR}},
         "heard as G major\n",
         0},
        {"the metre is given", THREE, false, {{0, 0, THREE}}, "heard as G major, 3/4\n", 1},
        {"a known tune's", THREE, true, {{0, 0, THREE}, {1, 0, FOUR}}, "counted in 4/4\n", 2},
        {"told and left for a note",
         NONE,
         false,
         {{0, 0, FOUR}, {1, 0, FOUR}, {1, 1, SIX}, {1, 2, FOUR}, {2, 2, FOUR}},
         "counted in 4/4\n",
         1},
    };
    for (size_t i = 0; i < sizeof ROWS / sizeof *ROWS; i++) {
        char *text = NULL;
        size_t size = 0;
        struct narrator n = {.out = open_memstream(&text, &size), .metre = METRES[ROWS[i].given]};
        for (int k = 0; k < 6 && ROWS[i].moments[k].metre != NONE; k++)
            narrate_moment(&n, &ROWS[i].moments[k], ROWS[i].knows_tune);
        fclose(n.out);
        ck_told(ROWS[i].why, text, ROWS[i].said, ROWS[i].times);
        free(text);
    }
}
END_TEST

int main(void)
{
    const TTest *const TESTS[] = {a_metre_is_told_when_it_has_held_for_a_bar};
    return RUN_TESTS("narrate", TESTS);
}
