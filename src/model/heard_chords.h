/* What the left hand sounds while a simulated player plays: for the programs that judge. */
#ifndef HEARD_CHORDS_H
#define HEARD_CHORDS_H

#include "players.h"
#include "undersong/companion.h"

enum { HEARD_MAX = 4096 };

struct heard_chords {
    struct {
        double s;
        struct us_chord chord; /* US_NO_CHORD where the left hand is silent */
    } list[HEARD_MAX];
    size_t count;
    double strike_s[HEARD_MAX]; /* when the left hand struck */
    size_t strikes;
    double bar_s[HEARD_MAX]; /* when a bar line was felt */
    size_t bars;
    uint32_t left_down;    /* notes of the left hand that sound at the end */
    struct us_chord chord; /* decided last; US_NO_CHORD before the first */
    struct us_key key;     /* at the end; US_NO_KEY where none was found */
};

/* A companion hears the performance, `shift` semitones up, in virtual time.  What has no room in `h` is left
   out; without memory the program ends (program_words.h). */
void heard_play(const struct us_companion_settings *settings, const struct performance *p, int shift,
                struct heard_chords *h);
/* The time of the list that is nearest to `s`; INFINITY of none. */
double heard_nearest(const double *list, size_t count, double s);
/* Of the time from `from` to `to` in seconds, how many seconds have a chord on this root, or of this role in
   the key, sounding. */
double heard_root_time(const struct heard_chords *h, double from, double to, int root);
double heard_role_time(const struct heard_chords *h, double from, double to, struct us_key key,
                       enum us_role role);

#endif
