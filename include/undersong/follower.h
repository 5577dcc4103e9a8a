/* Where in the bar the player is, and how fast: beat following from onsets alone.  Several hypotheses of
   tempo, metre, bar line and pickup live side by side.  Pure, fixed size, no clock: time is an argument.  One
   thread at a time.  Time must not run back from call to call; an earlier time is taken as the last one. */
#ifndef UNDERSONG_FOLLOWER_H
#define UNDERSONG_FOLLOWER_H

#include "undersong/metre.h"
#include "undersong/tune.h"

struct us_follower_settings {
    struct us_metre metre;    /* top 0: find it */
    double pickup;            /* quarters from the first note to the first bar line; negative: find it */
    double quarters_a_minute; /* 0: find it; else where to start looking */
};

/* What is felt at an onset, or at a beat that comes with no onset. */
struct us_felt {
    int64_t at_ns;
    double bar_quarters;   /* position inside the bar: quarters from the bar line */
    int32_t bar;           /* bars since the run began; 0 is the first full bar, -1 the pickup */
    struct us_metre metre; /* as believed now; top 0 only before the first note */
    double quarter_ns;     /* the tempo now; 0 while only one note has been heard and no tempo was given */
    bool on_bar;           /* at a bar line */
    bool on_beat;          /* at a beat of the metre (dotted quarters in 6/8) */
    bool maybe_bar;        /* not the bar line believed in, but where another may well be: a left hand that
                              strikes bar lines strikes here too while it is undecided which is first */
    bool on_onset;         /* with a note of the player; false: timed by the tempo alone */
    bool already;          /* this bar line or beat was declared before (by time, or with an earlier note of
                              the same chord or ornament): do not strike again */
    bool fresh;            /* the player has started anew: position and run were reset */
    bool ended;            /* the pause has outlasted two bars: release what sounds; only from a tick */
    bool waiting;          /* the player hesitated before this note and goes on now */
    double sure;           /* 0 to 1, trust in the position in the bar; at the first note of all only that it
                              is on a bar line, or is not */
};

/* Visible so that a caller can own and copy it: see follower_state.h.  Fixed size, no pointers inside. */
struct us_follower;

/* Ready for the first note.  `settings` is copied; NULL means find everything. */
void us_follower_init(struct us_follower *f, const struct us_follower_settings *settings);
/* One note of the melody.  Fills `out`; a note within a few hundredths of a second of the one before belongs
   to the same onset and is answered with `already`. */
void us_follower_onset(struct us_follower *f, int64_t at_ns, int pitch, int velocity, struct us_felt *out);
/* The pitch of this run's first note on a bar line, as believed now, and how sure that is (0 to 1); -1 where
   there is none yet.  For as long as the run's first notes are remembered, some hundred. */
int us_follower_first_line(const struct us_follower *f, double *sure);
/* The key was let go.  Says nothing, but how notes are held tells long notes from hesitations. */
void us_follower_note_off(struct us_follower *f, int64_t at_ns, int pitch);
/* A beat tapped on a key or pedal: taps before the first note set the tempo (a count-in), later ones pull bar
   hypotheses that have a beat there.  Optional. */
void us_follower_tap(struct us_follower *f, int64_t at_ns);
/* The last onset is onset number `note` again (see us_follower_onsets), which was `bar_quarters` into its bar
   as far as is known: the player has gone back there.  The position in the bar moves with it. */
void us_follower_again(struct us_follower *f, uint32_t note, double bar_quarters);
/* How many onsets there were so far. */
uint32_t us_follower_onsets(const struct us_follower *f);
/* When the follower next wants a tick: the time of a beat that will be declared without an onset if none
   comes first, or the end of the run.  INT64_MAX where nothing is to be declared (the player has stopped). */
int64_t us_follower_due(struct us_follower *f);
/* Time has come to `now_ns`.  True where a beat is declared or the run ends, with `out` filled (its time is
   the due time, not later); call again until false.  Ticks before the due time change nothing. */
bool us_follower_tick(struct us_follower *f, int64_t now_ns, struct us_felt *out);

/* Metre and pickup of a whole quantized tune (one voice, times in quarters).  False where the tune has fewer
   than four notes; then 4/4 without pickup is answered. */
bool us_metre_of_tune(const struct us_note *notes, size_t count, struct us_metre *metre, double *pickup);

#endif
