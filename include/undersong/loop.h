/* Practising a part of a known tune round and round: how often, and how each time went.  Pure, fixed size. */
#ifndef UNDERSONG_LOOP_H
#define UNDERSONG_LOOP_H

#include "undersong/score.h"

/* The part: notes of the score, and what a teacher calls it. */
struct us_loop_part {
    uint16_t first, last;       /* notes of the score, both inside; last 0: no loop */
    uint16_t from, to, phrases; /* its phrases, from 1, and how many the tune has */
    int32_t from_bar, to_bar;   /* from 1; 0 a pickup */
};

enum us_loop_news {
    US_LOOP_NOTHING,
    US_LOOP_AGAIN, /* once through, with `wrong` notes or `waits` */
    US_LOOP_CLEAN, /* once through without any */
    US_LOOP_READY  /* clean for the second time running: the next phrase may come */
};

struct us_loop {
    struct us_loop_part part;
    uint32_t times;        /* through so far */
    uint32_t clean;        /* of them without a slip, the last ones running */
    uint32_t wrong, waits; /* in the last time through; wrong notes are also added and missed ones */
    /* This time. */
    uint32_t off, waited, met, strays;
    int16_t place; /* of the last note that was met */
    bool inside;
    int64_t at_ns;
};

/* Before the first note; a part with `last` 0 is no loop and never news. */
void us_loop_init(struct us_loop *loop, const struct us_loop_part *part);
/* A note that the follower has just been given.  A wait is half a second more than the tune asks for (chosen
   by us, no source). */
enum us_loop_news us_loop_note(struct us_loop *loop, const struct us_score_follower *follower, int64_t at_ns,
                               int pitch);
/* How the last time through went; US_LOOP_NOTHING before the first. */
enum us_loop_news us_loop_result(const struct us_loop *loop);

/* "phrase 2", "phrases 2 to 3". */
char *us_loop_part_name(const struct us_loop_part *part, char *out, size_t size);
/* "bars 5 to 8", "pickup to bar 4". */
char *us_loop_bars(const struct us_loop_part *part, char *out, size_t size);
/* The last time through and what comes now: "time 3: clean; once more like that"; empty before the first. */
char *us_loop_result_words(const struct us_loop *loop, char *out, size_t size);

#endif
