#include "support.h"

#include <stdlib.h>

#include "undersong/strain.h"

/* A melody by chance in 4/4: quarters and eighths up and down a scale. */
enum { NOTES = 40 };
static const int64_t QUARTER_NS = 500000000;
static struct melody {
    int pitch[NOTES];
    double at[NOTES];
} tune, other;

static void invent(struct melody *m, uint32_t seed)
{
    double at = 0;
    int step = 7;
    for (int i = 0; i < NOTES; i++) {
        seed = seed * 1664525u + 1013904223u;
        step += (int)(seed >> 24) % 7 - 3;
        if (step < 3) step += 4;
        if (step > 14) step -= 4;
        m->pitch[i] = 60 + us_mode_step_semitones(US_MODE_MAJOR, step % 7 + 1) + 12 * (step / 7);
        m->at[i] = at;
        at += seed >> 20 & 1 ? 0.5 : 1;
    }
}

struct player {
    struct us_strain strain;
    double place, bar_shift; /* quarters; how much later bars are counted than they should be */
    uint32_t onsets;
};

/* Plays the notes `from` to `to`; returns after how many the strain was found again, at the right note and
   transposition to the last; 0: not. */
static int play(struct player *p, const struct melody *m, int from, int to, int up)
{
    double begin = p->place;
    int found = 0;
    for (int i = from; i < to; i++) {
        p->place = begin + m->at[i] - m->at[from];
        double in_bar = p->place + p->bar_shift;
        in_bar -= 4 * (int)(in_bar / 4);
        us_strain_hear(&p->strain, &(struct us_strain_note){.at_ns = (int64_t)(p->place * (double)QUARTER_NS),
                                                            .place = p->place,
                                                            .bar_quarters = in_bar,
                                                            .bar = 4,
                                                            .quarter_ns = (double)QUARTER_NS,
                                                            .onset = p->onsets++,
                                                            .pitch = (int16_t)(m->pitch[i] + up),
                                                            .starts = in_bar < 0.01});
        us_strain_work(&p->strain);
        if (p->strain.again && p->strain.place == i && p->strain.up == us_pitch_class(up)) {
            if (!found) found = i - from + 1;
        } else if (i + 1 < to) {
            found = 0;
        }
    }
    p->place += 0.5;
    return found;
}

static struct player *new_player(void)
{
    struct player *p = calloc(1, sizeof *p);
    us_strain_init(&p->strain);
    return p;
}

/* Begun again at once, from the start or a bar line, as it was or in another key. */
START_TEST(strain_is_found_again)
{
    int late = 0, times = 0;
    for (uint32_t seed = 1; seed <= 30; seed++) {
        invent(&tune, seed);
        for (int up = 0; up < 12; up += 5) {
            struct player *p = new_player();
            ck_assert_int_eq(play(p, &tune, 0, 30, 0), 0);
            int after = play(p, &tune, 0, 20, up);
            ck_assert_msg(after > 0, "seed %u, %d up", seed, up);
            late += after > 8;
            times++;
            free(p);
        }
    }
    ck_assert_int_le(late, times / 10);
}
END_TEST

/* Nothing is found in new material, and what was played twice is written once. */
START_TEST(strain_writes_new_material_once)
{
    int wrongly = 0;
    for (uint32_t seed = 1; seed <= 30; seed++) {
        struct player *p = new_player();
        invent(&tune, seed);
        invent(&other, seed + 1000);
        play(p, &tune, 0, NOTES, 0);
        wrongly += p->strain.again;
        play(p, &other, 0, NOTES, 0);
        wrongly += p->strain.again;
        free(p);
        p = new_player();
        play(p, &tune, 0, 30, 0);
        play(p, &tune, 0, NOTES, 0);
        ck_assert_int_le(p->strain.score.count, NOTES + 4);
        free(p);
    }
    ck_assert_int_le(wrongly, 1);
}
END_TEST

/* Where it lies elsewhere in the bar than before, that is told. */
START_TEST(strain_tells_the_place_in_the_bar)
{
    struct player *p = new_player();
    invent(&tune, 7);
    play(p, &tune, 0, 30, 0);
    p->bar_shift = -p->place + 1; /* the first note now seems to lie on the second beat */
    play(p, &tune, 0, 12, 0);
    ck_assert(p->strain.again);
    ck_assert_int_ge(p->strain.offs, 2);
    ck_assert_double_eq_tol(p->strain.off, 1, 0.01);
    free(p);
}
END_TEST

/* Hours of practice: the oldest half gives way, the newest is still found. */
START_TEST(strain_makes_room)
{
    struct player *p = new_player();
    for (uint32_t seed = 1; seed <= 40; seed++) {
        invent(&tune, seed);
        play(p, &tune, 0, NOTES, 0);
        ck_assert_int_le(p->strain.score.count, US_STRAIN_NOTES);
    }
    struct us_strain *s = &p->strain;
    int first = s->score.count - NOTES;
    play(p, &tune, 0, 20, 0);
    ck_assert(s->again);
    ck_assert_int_le(abs(s->place - first - 19), 1);
    free(p);
}
END_TEST

/* However long one strain is played round and round. */
START_TEST(strain_counts_no_further_than_it_can)
{
    struct player *p = new_player();
    invent(&tune, 7);
    play(p, &tune, 0, 30, 0);
    p->bar_shift = -p->place;
    play(p, &tune, 0, 12, 0);
    ck_assert(p->strain.again);
    p->strain.agree = INT16_MAX;
    p->bar_shift = tune.at[12] - p->place;
    play(p, &tune, 12, 20, 0);
    ck_assert(p->strain.again);
    ck_assert_int_gt(p->strain.agree, 0);
    free(p);
}
END_TEST

int main(void)
{
    const TTest *const TESTS[] = {strain_is_found_again, strain_writes_new_material_once,
                                  strain_tells_the_place_in_the_bar, strain_makes_room,
                                  strain_counts_no_further_than_it_can};
    return RUN_TESTS("strain", TESTS);
}
