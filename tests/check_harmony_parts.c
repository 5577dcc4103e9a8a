/* The live harmony's quick loops against plain ones, written here as they are meant. */
#include "../src/core/harmony_memory.h"
#include "../src/core/harmony_rows.h"
#include "support.h"

#include <stdlib.h>
#include <string.h>

static unsigned state = 1;

static unsigned chance(unsigned below)
{
    state = state * 1664525u + 1013904223u;
    return (unsigned)(((uint64_t)state * below) >> 32);
}

enum { ROWS_MOST = US_NET_IN };
static uint8_t weights[ROWS_MOST * US_NET_HIDDEN];
static float inputs[ROWS_MOST];

static void make_rows(void)
{
    for (size_t i = 0; i < sizeof weights; i++)
        weights[i] = (uint8_t)(US_NET_ZERO - US_NET_REACH + (int)chance(2 * US_NET_REACH + 1));
    for (int i = 0; i < ROWS_MOST; i++)
        inputs[i] = chance(3) ? (float)chance(100000) / 7919.0f : 0;
}

static void plainly(int rows, int row, int outs, float *sum)
{
    for (int i = 0; i < rows; i++)
        for (int k = 0; k < outs; k++) {
            float product = inputs[i] * (float)((int)weights[i * row + k] - US_NET_ZERO);
            sum[k] += product;
        }
}

/* The same to the last bit, whatever vectors the processor has; also where the rows do not fill them. */
START_TEST(rows_are_summed_as_plainly)
{
    static const int ROWS[] = {0, 1, 7, 8, 13, US_NET_HIDDEN, US_NET_IN};
    for (size_t r = 0; r < sizeof ROWS / sizeof *ROWS; r++) {
        float quick[US_NET_HIDDEN], plain[US_NET_HIDDEN];
        make_rows();
        for (int i = 0; i < US_NET_HIDDEN; i++)
            quick[i] = plain[i] = (float)chance(1000) / 331.0f;
        us_rows_hidden(inputs, ROWS[r], weights, quick);
        plainly(ROWS[r], US_NET_HIDDEN, US_NET_HIDDEN, plain);
        ck_assert_mem_eq(quick, plain, sizeof plain);
        us_rows_out(inputs, ROWS[r], weights, quick);
        plainly(ROWS[r], US_NET_OUT, US_NET_OUT, plain);
        ck_assert_mem_eq(quick, plain, sizeof plain);
        us_rows_roles(inputs, ROWS[r], weights, quick);
        plainly(ROWS[r], US_NET_OUT, US_ROWS_ROLES, plain);
        ck_assert_mem_eq(quick, plain, sizeof plain);
    }
}
END_TEST

/* The memory of strains by its rule: the score of a beat goes on from that of the beat before it. */
enum { BEATS = 3000, KEPT = US_MEMORY_BEATS, NOBODY_KNOWS = 99 };
static unsigned lead[BEATS], tail[BEATS];
static float score[BEATS], next[BEATS], liked[BEATS];

static void score_all(int now, bool goes_on)
{
    int oldest = now >= KEPT ? now - KEPT + 1 : 0;
    for (int i = oldest + 1; i < now; i++) {
        float carried = 0.9f * score[i - 1] + (goes_on && tail[i - 1] == tail[now - 1] ? 0.4f : 0);
        next[i] = lead[i] == lead[now] ? carried + 0.6f : 0.5f * carried;
    }
    memcpy(score + oldest + 1, next + oldest + 1,
           (size_t)(now > oldest ? now - oldest - 1 : 0) * sizeof *next);
    score[now] = 0;
}

static int best_of(int now)
{
    int oldest = now >= KEPT ? now - KEPT + 1 : 0, best = -1;
    for (int i = now - 6; i >= oldest; i--)
        if (best < 0 || score[i] + liked[i] > score[best] + liked[best]) best = i;
    return best >= 0 && score[best] + liked[best] >= 5 ? best : -1;
}

/* Each beat is told its own role, so that a recalled one names the beat it comes from. */
static void tell(struct us_strain_memory *m, int now, int beat, bool settled)
{
    float role[3] = {(float)beat, 0, 0};
    us_memory_judge(m, (uint32_t)(now - beat), role, settled);
    liked[beat] = settled ? 0.5f : 0;
}

START_TEST(strains_are_recalled_as_by_the_rule)
{
    struct us_strain_memory *m = calloc(1, sizeof *m);
    int run = 0, recalled = 0;
    for (int now = 0; now < BEATS; now++) {
        lead[now] = now >= 32 && chance(8) ? lead[now - 32] : chance(4);
        tail[now] = now >= 32 && chance(8) ? tail[now - 32] % NOBODY_KNOWS : chance(3);
        if (now && chance(400) == 0) {
            tail[now - 1] = NOBODY_KNOWS; /* how it would have gone on */
            us_memory_fresh(m);
            memset(score, 0, sizeof score);
            run = now;
        }
        us_memory_beat(m, lead[now], now ? tail[now - 1] : 0);
        score_all(now, now > run);
        float role[3];
        bool any = us_memory_recall(m, role) > 0;
        int best = best_of(now);
        ck_assert_int_eq(any, best >= 0);
        if (any) ck_assert_int_eq((int)role[0], best);
        recalled += any;
        tell(m, now, now, false);
        if (now > 40) tell(m, now, now - 37, true);
    }
    ck_assert_int_gt(recalled, BEATS / 4);
    free(m);
}
END_TEST

int main(void)
{
    const TTest *tests[] = {rows_are_summed_as_plainly, strains_are_recalled_as_by_the_rule};
    return RUN_TESTS("harmony_parts", tests);
}
