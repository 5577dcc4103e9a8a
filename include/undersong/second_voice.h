/* The second voice: the duet line below the melody, or the player's own melody as a round.  Pure, fixed size;
   one thread at a time. */
#ifndef UNDERSONG_SECOND_VOICE_H
#define UNDERSONG_SECOND_VOICE_H

#include "undersong/chord.h"
#include "undersong/round.h"

enum us_second_voice { US_SECOND_NONE, US_SECOND_THIRD, US_SECOND_SIXTH, US_SECOND_ROUND };

/* The duet note below a melody note: a third (or a sixth) down the scale of the key, with the scale bent to
   the chord (the raised 7 under V in minor).  On strong beats, and on the keynote over I, a melody note of
   the chord gets another note of the chord, a fourth or a sixth away where the third is none; nowhere a
   semitone from a chord tone.  -1 where there is no key, the kind is neither, or the note would lie below F2.
 */
int us_duet_below(enum us_second_voice kind, int melody, struct us_key key, struct us_chord chord,
                  bool strong);

/* What the second voice must know at a note.  `at_quarters` counts from the run's first bar line (the pickup
   is negative); `strong`: a bar line, a half bar, or the end of a phrase. */
struct us_second_moment {
    double at_quarters, bar_quarters;
    struct us_key key;
    struct us_chord chord;
    bool strong;
};

enum us_round_state {
    US_ROUND_LISTENS,     /* auto: no entry found yet */
    US_ROUND_ENTERS,      /* the entry is known: `entry_bars` */
    US_ROUND_FITS_NOWHERE /* auto: sixteen bars heard, and the tune goes with itself nowhere: say so */
};

struct us_second {
    enum us_second_voice kind;
    int round_bars;        /* 0: find the entry */
    double melody_at;      /* where the duet's melody key went down */
    int16_t melody, below; /* the duet: which key it accompanies, and with what; -1 none */
    struct us_round round;
    enum us_round_state state;
    int entry_bars;
    int candidate;     /* the entry that fitted at the last bar line, not yet trusted */
    bool known;        /* the tune is known: there is nothing to listen for */
    bool by_ear;       /* the entry was found by listening, and is given up when it no longer fits */
    double fit;        /* how well the entry fits, 0 to 1 */
    int32_t bar;       /* the last bar line looked at */
    int32_t first_bar; /* where listening began: a run's first one, or where it is gone on with */
};

/* `round_bars`: how many bars later a round enters; 0: where us_round_entry() says the tune goes with itself.
 */
void us_second_init(struct us_second *s, enum us_second_voice kind, int round_bars);
/* The player's keys, and time going on.  Each writes the notes of the second voice that end and begin now
   (ends first) and returns how many, at most `capacity`; US_SECOND_ANSWERS_MAX is enough. */
enum { US_SECOND_ANSWERS_MAX = 32 };
size_t us_second_note_on(struct us_second *s, const struct us_second_moment *moment, int pitch, int velocity,
                         struct us_round_answer *out, size_t capacity);
size_t us_second_note_off(struct us_second *s, const struct us_second_moment *moment, int pitch,
                          struct us_round_answer *out, size_t capacity);
/* A key that is down turned out not to be the melody's: the round does not answer it. */
void us_second_take_back(struct us_second *s, int pitch);
size_t us_second_advance(struct us_second *s, double at_quarters, double bar_quarters,
                         struct us_round_answer *out, size_t capacity);
/* From where on us_second_advance() has something to say, in quarters of the run; INFINITY where nothing is
   to come. */
double us_second_due(const struct us_second *s);
/* The lowest pitch that the second voice sounds now, or -1: what the left hand stays below. */
int us_second_lowest(const struct us_second *s);
/* The run is over: an entry that was looked for in eight bars and not found fits nowhere. */
void us_second_run_over(struct us_second *s);
/* Ends everything that sounds; `anew` also forgets what was heard (the run is over or has begun again).  Call
   again while it returns `capacity`. */
size_t us_second_silence(struct us_second *s, bool anew, struct us_round_answer *out, size_t capacity);
/* The tune is known: finds the entry of round:auto at once. */
void us_second_know_tune(struct us_second *s, const struct us_round_note *notes, size_t count,
                         double bar_quarters);

/* It was another tune: the entry is looked for by ear from now on. */
void us_second_forget_tune(struct us_second *s);

/* "none", "third", "sixth", "round:4", "round:auto" (bars 0).  False for anything else, bars outside 1 to
   US_ROUND_BARS_MAX too. */
bool us_second_parse(const char *text, enum us_second_voice *kind, int *round_bars);

#endif
