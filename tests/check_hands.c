#include "support.h"

#include "undersong/hands.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* A row of keys: "r72" goes down and is the right hand's, "l48" the left's, "-72" is let go a
   while later.  Made up; how
   beginners play is common practice, no source. */
static void play_row(struct us_hands *h, const char *row)
{
    static int64_t now_ns;
    char text[400];
    snprintf(text, sizeof text, "%s", row);
    for (char *word = strtok(text, " "); word; word = strtok(NULL, " ")) {
        int pitch = atoi(word + 1);
        now_ns += *word == '-' ? 200000000 : 15000000;
        if (*word == '-') {
            us_hands_note_off(h, pitch);
            continue;
        }
        enum us_hand hand = us_hands_note_on(h, now_ns, pitch);
        ck_assert_msg(hand == (*word == 'l' ? US_HAND_LEFT : US_HAND_RIGHT), "%s in %s", word, row);
    }
}

START_TEST(hands_rows)
{
    static const char *const ROWS[] = {
        /* melody and block chords */
        "r72 l48 l52 l55 -72 r74 -74 r76 -76 -48 -52 -55 r77 l48 l53 l57 -77 r76 -76",
        /* the left hand alone first, then the melody */
        "l48 l52 l55 r72 -72 r71 -71",
        /* the chord rolled from above the split down */
        "r79 l50 l55 l59 -79 r78",
        /* a tune that sinks below the split by steps, alone */
        "r60 -60 r59 -59 r57 -57 r55 -55 r53 -53 r52 -52 r53 -53 r55 -55 r60 -60",
        /* the same, legato */
        "r60 r59 -60 r57 -59 r55 -57 r53 -55 r52 -53 r50 -52",
        /* single roots far below */
        "r67 l43 -67 r69 -69 r71 -71 -43 r72 l48 -72 r74",
        /* a left-hand grip that reaches over middle C under a high melody */
        "r84 l52 l55 l60 -84 r83",
        /* a broken chord over the split, the melody let go before each of its notes */
        "r72 l48 -72 -48 l55 r74 -74 -55 l60 r76 -76 -60 l55",
        /* the melody begins with a root an octave below it */
        "l48 r60 -60 r62 -62 -48",
        /* a leap down to a fourth below the last note stays the melody's beside a high left hand */
        "r67 l48 l52 l57 -67 r65 -65 r60 -60 r62",
        /* a low melody over lower roots */
        "r60 l41 -60 r62 -62 -41 r64 l36 -64 r62",
    };
    for (size_t i = 0; i < sizeof ROWS / sizeof *ROWS; i++) {
        struct us_hands h;
        us_hands_init(&h);
        play_row(&h, ROWS[i]);
    }
}
END_TEST

/* A triad near the melody comes first and is taken for it, until the melody sounds above. */
START_TEST(hands_take_back)
{
    struct us_hands h;
    us_hands_init(&h);
    for (int i = 0; i < 3; i++)
        ck_assert_int_eq(us_hands_note_on(&h, 5000000 * i, (int[]){55, 59, 62}[i]), US_HAND_RIGHT);
    ck_assert_int_eq(us_hands_note_on(&h, 20000000, 67), US_HAND_RIGHT);
    ck_assert_int_eq(h.taken_back, 3);
    ck_assert_int_eq(us_hands_note_off(&h, 59), US_HAND_LEFT);
    us_hands_note_on(&h, 600000000, 69);
    ck_assert_int_eq(h.taken_back, 0);
    /* Two keys of one hand, a third apart, stay the melody's, and so does what began long before. */
    us_hands_init(&h);
    us_hands_note_on(&h, 0, 64);
    us_hands_note_on(&h, 5000000, 67);
    us_hands_note_on(&h, 10000000, 72);
    ck_assert_int_eq(h.taken_back, 0);
    us_hands_init(&h);
    us_hands_note_on(&h, 0, 55);
    us_hands_note_on(&h, 5000000, 62);
    us_hands_note_on(&h, 10000000, 64); /* a step above the grip: no melody of its own */
    ck_assert_int_eq(h.taken_back, 0);
    us_hands_init(&h);
    us_hands_note_on(&h, 0, 55);
    us_hands_note_on(&h, 5000000, 59);
    us_hands_note_on(&h, 500000000, 67);
    ck_assert_int_eq(h.taken_back, 0);
}
END_TEST

START_TEST(hands_know_what_is_down)
{
    struct us_hands h;
    us_hands_init(&h);
    play_row(&h, "r72 l48 l55");
    ck_assert_int_eq(us_hands_note_off(&h, 48), US_HAND_LEFT);
    ck_assert_int_eq(us_hands_note_off(&h, 72), US_HAND_RIGHT);
    ck_assert_int_eq(us_hands_note_off(&h, 55), US_HAND_LEFT);
    for (int pitch = 0; pitch < US_PITCHES; pitch++)
        ck_assert_int_eq(h.hand[pitch], 0);
    ck_assert_int_eq(us_hands_note_off(&h, 100), US_HAND_RIGHT); /* was never down */
}
END_TEST

/* The split goes to where the player's hands part, within bounds. */
START_TEST(hands_split_adapts)
{
    struct us_hands high, low;
    us_hands_init(&high);
    us_hands_init(&low);
    for (int i = 0; i < 40; i++) {
        play_row(&high, "r84 l55 l60 l64 -84 r81 -81 -55 -60 -64");
        play_row(&low, "r60 l36 l43 -60 r57 -57 -36 -43");
    }
    ck_assert(high.split > 64 && high.split <= US_SPLIT_HIGHEST);
    double before = high.split;
    for (int i = 0; i < 40; i++)
        play_row(&high, "r84 l43 l47 l50 -84 r81 -81 -43 -47 -50");
    ck_assert_double_lt(high.split, before - 1); /* and after them again */
    ck_assert(low.split < 55 && low.split >= US_SPLIT_LOWEST);
}
END_TEST

/* A low tune alone takes the split down with it, and then may leap there too. */
START_TEST(hands_of_a_low_tune_alone)
{
    struct us_hands h;
    us_hands_init(&h);
    play_row(&h, "r60 -60 r57 -57 r55 -55");
    for (int i = 0; i < 12; i++)
        play_row(&h, "r53 -53 r52 -52 r55 -55 r57 -57");
    ck_assert(h.split > 47 && h.split < 52);
    play_row(&h, "r62 -62 r52 -52");
    /* But where a left hand has been heard, low leaps are its own. */
    us_hands_init(&h);
    play_row(&h, "r67 l48 -67 -48 r66 l50 -66 -50 r62 -62 l52");
}
END_TEST

/* Random walks of a melody from G3 to C6 over random grips an octave and more below: at most one note in a
   hundred on the wrong hand; a melody alone: at most one in five hundred. */
START_TEST(hands_of_random_players)
{
    static const int8_t GRIPS[][4] = {
        {0, 4, 7, -1}, {0, 5, 9, -1}, {0, 3, 8, -1}, {0, 7, -1, -1}, {0, -1, -1, -1}};
    srand(3);
    int64_t now_ns = 0;
    int wrong = 0, all = 0, wrong_alone = 0, alone = 0;
    for (int player = 0; player < 200; player++) {
        struct us_hands h;
        us_hands_init(&h);
        int melody = 67 + rand() % 8, bottom = player % 2 ? 55 : 62;
        for (int bar = 0; bar < 32; bar++) {
            const int8_t *grip = GRIPS[rand() % 5];
            int base = 43 + rand() % 8;
            for (int note = 0; note < 4; note++) {
                int before = melody;
                now_ns += 500000000;
                melody += rand() % 9 - 4;
                if (melody < bottom) melody = bottom + rand() % 3;
                if (melody > 84) melody = 84 - rand() % 3;
                enum us_hand hand = us_hands_note_on(&h, now_ns, melody);
                us_hands_note_off(&h, before);
                if (player % 2) {
                    alone++;
                    wrong_alone += hand == US_HAND_LEFT;
                    continue;
                }
                all++;
                wrong += hand == US_HAND_LEFT;
                for (int g = 0; g < 4 && !note && grip[g] >= 0; g++, all++)
                    wrong += us_hands_note_on(&h, now_ns, base + grip[g]) == US_HAND_RIGHT;
            }
            if (player % 2) continue;
            for (int g = 0; g < 4 && grip[g] >= 0; g++)
                us_hands_note_off(&h, base + grip[g]);
        }
    }
    ck_assert_msg(wrong * 100 <= all, "%d of %d", wrong, all);
    ck_assert_msg(wrong_alone * 500 <= alone, "%d of %d", wrong_alone, alone);
}
END_TEST

int main(void)
{
    const TTest *const TESTS[] = {hands_rows,         hands_take_back,           hands_know_what_is_down,
                                  hands_split_adapts, hands_of_a_low_tune_alone, hands_of_random_players};
    return RUN_TESTS("hands", TESTS);
}
