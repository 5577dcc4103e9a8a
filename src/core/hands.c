#include "undersong/hands.h"

#include <stdlib.h>
#include <string.h>

/* A melody steps or leaps no further than this from its last note when it goes below the split. */
enum { MELODY_LEAP = 7 };
/* The notes of a grip come within so long, and lie no further apart than this. */
static const int64_t GRIP_NS = 120000000;
enum { GRIP_STEP = 7 };
/* A left hand that has played within so long goes on: what lies nearer to it than to the melody is its. */
static const int64_t BUSY_NS = 1500000000;
enum { BUSY_REACH = 12, BUSY_BELOW = 6 };
/* The melody begins so soon after a grip that turns out to be the left hand's, and so far above it. */
static const int64_t REGRIP_NS = 80000000;
enum { REGRIP_ABOVE = 3, REGRIP_SPAN = 9 };
/* One hand holds no more than this. */
enum { RIGHT_SPAN = 16 };
/* How quickly the reach of a hand moves outwards and back, and the split after it. */
static const double OUTWARDS = 0.4, BACK = 0.04, SPLIT_MOVES = 0.2;

void us_hands_init(struct us_hands *h)
{
    memset(h, 0, sizeof *h);
    h->split = US_SPLIT_DEFAULT;
    h->last_left = h->last_right = -1;
}

/* The first of a hand's keys that is down from `pitch` on, upwards (1) or downwards (-1); -1 where none is.
 */
static int next_down(const struct us_hands *h, enum us_hand hand, int pitch, int way)
{
    while (pitch >= 0 && pitch < US_PITCHES && h->hand[pitch] != (uint8_t)hand + 1)
        pitch += way;
    return pitch < US_PITCHES ? pitch : -1;
}

/* Above the split it is the right hand's, but for the top of a left-hand grip under a melody that is further
 * off. */
static enum us_hand above_split(const struct us_hands *h, int64_t at_ns, int pitch, int left_high,
                                int right_low)
{
    bool in_grip = left_high >= 0 && abs(pitch - left_high) <= GRIP_STEP && at_ns - h->left_ns <= GRIP_NS;
    int melody = right_low >= 0 ? right_low : h->last_right >= 0 ? h->last_right : US_PITCHES;
    bool melody_above = melody > pitch && melody - pitch > abs(pitch - left_high);
    if (right_low - pitch > RIGHT_SPAN && pitch < h->split + 12) return US_HAND_LEFT;
    bool busy = h->last_left >= 0 && at_ns - h->left_ns <= BUSY_NS && pitch - h->last_left <= BUSY_REACH;
    if (busy && melody < US_PITCHES && melody - pitch >= BUSY_BELOW &&
        melody - pitch > abs(pitch - h->last_left))
        return US_HAND_LEFT;
    return in_grip && melody_above ? US_HAND_LEFT : US_HAND_RIGHT;
}

/* Below the split it is the left hand's, but for a line that gets there by steps and small leaps. */
static enum us_hand below_split(const struct us_hands *h, int pitch, int left_high, int right_low)
{
    if (h->last_right < 0 || abs(pitch - h->last_right) > MELODY_LEAP) return US_HAND_LEFT;
    bool legato = right_low < 0 || right_low == h->last_right;
    int to_left = left_high >= 0 ? abs(pitch - left_high) : US_PITCHES;
    if (left_high < 0 && h->last_left >= 0) to_left = abs(pitch - h->last_left);
    return legato && to_left > abs(pitch - h->last_right) ? US_HAND_RIGHT : US_HAND_LEFT;
}

static void reach(double *edge, double pitch, bool outwards)
{
    if (*edge <= 0) *edge = pitch;
    *edge += (pitch - *edge) * (outwards ? OUTWARDS : BACK);
}

static void adapt(struct us_hands *h, int pitch, enum us_hand hand)
{
    double target = h->split;
    if (hand == US_HAND_LEFT)
        reach(&h->left_top, pitch, pitch > h->left_top);
    else
        reach(&h->right_low, pitch, pitch < h->right_low);
    if (h->left_top > 0 && h->right_low > h->left_top)
        target = (h->left_top + h->right_low) / 2;
    else if (h->left_top <= 0 && h->right_low < h->split + 3)
        target = h->right_low - 3;
    if (target < US_SPLIT_LOWEST) target = US_SPLIT_LOWEST;
    if (target > US_SPLIT_HIGHEST) target = US_SPLIT_HIGHEST;
    h->split += (target - h->split) * SPLIT_MOVES;
}

/* Keys that went down together and were taken for the melody: the left hand's where this note is the melody.
 */
static void take_back(struct us_hands *h, int64_t at_ns, int pitch)
{
    int highest = 0, lowest = US_PITCHES;
    h->taken_back = 0;
    if (h->grip_count && at_ns - h->grip_ns > REGRIP_NS) h->grip_count = 0;
    for (int i = 0; i < h->grip_count; i++) {
        highest = h->grip[i] > highest ? h->grip[i] : highest;
        lowest = h->grip[i] < lowest ? h->grip[i] : lowest;
    }
    if (h->grip_count >= 2 && pitch - highest >= REGRIP_ABOVE && pitch - lowest >= REGRIP_SPAN) {
        h->taken_back = h->grip_count;
        for (int i = 0; i < h->grip_count; i++)
            if (h->hand[h->grip[i]]) h->hand[h->grip[i]] = US_HAND_LEFT + 1;
        h->grip_count = 0;
        h->left_top = highest;
        h->left_ns = at_ns;
        h->last_left = (int16_t)highest;
        h->right_low = pitch;
        return;
    }
    if (!h->grip_count) h->grip_ns = at_ns;
    if (h->grip_count < sizeof h->grip) h->grip[h->grip_count++] = (uint8_t)pitch;
}

enum us_hand us_hands_note_on(struct us_hands *h, int64_t at_ns, int pitch)
{
    int left_high = next_down(h, US_HAND_LEFT, US_PITCHES - 1, -1);
    int right_low = next_down(h, US_HAND_RIGHT, 0, 1);
    enum us_hand hand = pitch >= h->split ? above_split(h, at_ns, pitch, left_high, right_low)
                                          : below_split(h, pitch, left_high, right_low);
    h->hand[pitch] = (uint8_t)hand + 1;
    h->taken_back = 0;
    if (hand == US_HAND_RIGHT) take_back(h, at_ns, pitch);
    adapt(h, pitch, hand);
    if (hand == US_HAND_LEFT) h->left_ns = at_ns;
    *(hand == US_HAND_LEFT ? &h->last_left : &h->last_right) = (int16_t)pitch;
    return hand;
}

enum us_hand us_hands_note_off(struct us_hands *h, int pitch)
{
    enum us_hand hand = h->hand[pitch] == US_HAND_LEFT + 1 ? US_HAND_LEFT : US_HAND_RIGHT;
    h->hand[pitch] = 0;
    return hand;
}
