/* MIDI clock for a rhythm box that follows the player: 24 clocks a quarter note (MIDI 1.0, system real-time).
   It never runs ahead of a player who hesitates: after a beat's clocks are out it waits for the next beat.
   Pure, fixed size. */
#ifndef UNDERSONG_BEAT_CLOCK_H
#define UNDERSONG_BEAT_CLOCK_H

#include "undersong/event.h"

enum { US_CLOCKS_A_QUARTER = 24 };
struct us_beat_clock {
    bool running;
    int32_t left;        /* clocks of this beat that are not out yet */
    int32_t beat_clocks; /* of a whole beat */
    int64_t next_ns;     /* when the next is due */
    int64_t beat_ns;     /* when this beat was felt */
    int64_t length_ns;   /* of a beat, as last felt */
    int64_t slow_ns;     /* of the last one, where that was much longer; else 0 */
    bool start;          /* FA is to be sent before the next clock */
};

/* Silent until the first beat is felt. */
void us_beat_clock_init(struct us_beat_clock *clock);
/* A US_ACTION_BEAT, with the metre that holds.  Clocks that the last beat still owed come out at once.  Two
   beats running that are both much longer than the last, but under four seconds, are a slower tempo. */
void us_beat_clock_beat(struct us_beat_clock *clock, int64_t at_ns, struct us_metre metre);
/* The next status byte to send by `now_ns`: 0xFA start, 0xF8 clock, 0xFC stop after two beats without
   another; 0: none. Call until 0. */
uint8_t us_beat_clock_next(struct us_beat_clock *clock, int64_t now_ns);
/* When us_beat_clock_next() wants to be called, or INT64_MAX. */
int64_t us_beat_clock_due(const struct us_beat_clock *clock);

#endif
