#include "support.h"

#include <string.h>

#include "fingers.h"

/* What sounds, and that nothing begins twice or ends without having begun. */
static struct {
    bool on[FINGER_PITCHES];
    int count;
} sounding;

static void hear(void *user, bool on, int pitch)
{
    ck_assert_ptr_eq(user, &sounding);
    ck_assert_msg(sounding.on[pitch] != on, "%d %s twice", pitch, on ? "on" : "off");
    sounding.on[pitch] = on;
    sounding.count += on ? 1 : -1;
}

static struct fingers begin(void)
{
    struct fingers f;
    memset(&sounding, 0, sizeof sounding);
    fingers_init(&f, hear, &sounding);
    return f;
}

static const int WHO[12];

START_TEST(each_finger_holds_its_key)
{
    struct fingers f = begin();
    static const int CHORD[] = {60, 64, 67, 72};
    for (int i = 0; i < 4; i++)
        fingers_touch(&f, &WHO[i], FINGER_DOWN, CHORD[i]);
    ck_assert_int_eq(sounding.count, 4);
    for (int i = 0; i < 4; i++) {
        ck_assert(sounding.on[CHORD[i]]);
        fingers_touch(&f, &WHO[i], FINGER_UP, CHORD[i]);
        ck_assert(!sounding.on[CHORD[i]]);
        ck_assert_int_eq(sounding.count, 3 - i);
    }
}
END_TEST

/* A cancelled touch comes from the system without a place: what it held ends, the others go on. */
START_TEST(cancelled_touch_lets_go)
{
    struct fingers f = begin();
    fingers_touch(&f, &WHO[0], FINGER_DOWN, 60);
    fingers_touch(&f, &WHO[1], FINGER_DOWN, 64);
    fingers_touch(&f, &WHO[0], FINGER_UP, -1);
    ck_assert(!sounding.on[60]);
    ck_assert(sounding.on[64]);
    fingers_touch(&f, &WHO[0], FINGER_MOVES, 62); /* a late word of one that is gone */
    ck_assert_int_eq(sounding.count, 1);
}
END_TEST

START_TEST(finger_slides)
{
    struct fingers f = begin();
    fingers_touch(&f, &WHO[0], FINGER_DOWN, 60);
    fingers_touch(&f, &WHO[0], FINGER_MOVES, 62);
    ck_assert(!sounding.on[60] && sounding.on[62]);
    fingers_touch(&f, &WHO[0], FINGER_MOVES, -1); /* off the keys: the last one is held */
    ck_assert(sounding.on[62]);
    fingers_touch(&f, &WHO[0], FINGER_UP, -1);
    ck_assert_int_eq(sounding.count, 0);
    fingers_touch(&f, &WHO[0], FINGER_DOWN, -1); /* beside the keys: it plays nothing, wherever it goes */
    fingers_touch(&f, &WHO[0], FINGER_MOVES, 62);
    ck_assert_int_eq(sounding.count, 0);
}
END_TEST

/* Two on one key: it ends with the second. */
START_TEST(key_held_by_two)
{
    struct fingers f = begin();
    fingers_press(&f, 60);
    fingers_touch(&f, NULL, FINGER_DOWN, 60);
    fingers_touch(&f, &WHO[0], FINGER_DOWN, 60);
    fingers_touch(&f, NULL, FINGER_UP, 60);
    fingers_let_go(&f, 60);
    ck_assert(sounding.on[60]);
    fingers_touch(&f, &WHO[0], FINGER_UP, 60);
    ck_assert(!sounding.on[60]);
}
END_TEST

START_TEST(release_ends_all)
{
    struct fingers f = begin();
    for (int i = 0; i < 12; i++) /* two more than there are */
        fingers_touch(&f, &WHO[i], FINGER_DOWN, 60 + i);
    ck_assert_int_eq(sounding.count, FINGERS);
    fingers_press(&f, 100);
    fingers_release(&f);
    ck_assert_int_eq(sounding.count, 0);
    fingers_touch(&f, &WHO[0], FINGER_UP, 60);
    fingers_let_go(&f, 100);
    ck_assert_int_eq(sounding.count, 0);
}
END_TEST

int main(void)
{
    const TTest *const TESTS[] = {each_finger_holds_its_key, cancelled_touch_lets_go, finger_slides,
                                  key_held_by_two, release_ends_all};
    return RUN_TESTS("fingers", TESTS);
}
