/* The memory of a follower, visible so that a caller can own and copy it.  Its fields are the
   implementation's own: use the functions of follower.h. */
#ifndef UNDERSONG_FOLLOWER_STATE_H
#define UNDERSONG_FOLLOWER_STATE_H

#include "undersong/follower.h"

/* Positions are counted in ticks: 24 a quarter, enough for thirty-seconds and triplets. */
enum {
    US_FOLLOWER_TICKS = 24,
    US_FOLLOWER_GUESSES = 48,
    US_FOLLOWER_METRES = 6,
    US_FOLLOWER_NOTES = 128,
    US_FOLLOWER_ECHOES = 4
};

/* A metre as the follower uses it. */
struct us_follower_metre {
    struct us_metre metre;
    int16_t bar_ticks, beat_ticks;
    uint8_t table;       /* which learned rhythm table */
    int16_t table_ticks; /* the length after which that table repeats */
    float log_prior;
};

/* One hypothesis of where the player is. */
struct us_follower_guess {
    double phase_s;                           /* when `ticks` was, smoothed */
    float quarter_s;                          /* tempo: seconds a quarter; 0 while unknown */
    float var_phase, covariance, var_quarter; /* of the two above */
    float score;                              /* logarithm of its weight */
    int32_t ticks;                            /* position of the last onset; 0 is the first bar line */
    uint8_t metre;                            /* index into the follower's metres */
    uint8_t last_step;                        /* which rhythm step led here */
    uint8_t how;                              /* enum in follower_parts.h: how the last onset was read */
    uint16_t root;  /* which reading of the first notes (metre, pickup, tempo) this one goes back to */
    float foreseen; /* of `score`, what a grace note foretold of the note to come */
    float error_s, error_var; /* how far off the last onset was; what was to be expected */
    int32_t start_ticks;      /* where this run's first note was */
    uint32_t start_note;      /* number of that note */
    uint8_t dotted,
        lilting;          /* of the last eight steps from a beat, a bit each: 3/4 and 2/3 of the beat long */
    bool graced;          /* the note before was a grace note to the last one */
    uint8_t proof;        /* how many more notes must show that the tune has been begun again */
    int64_t replay;       /* number of the earlier note that is being played again, or -1 */
    uint32_t back_note;   /* number of the note with which the player last went back, or began; 0: never */
    uint8_t waits, backs; /* how often the player has stopped and gone on there, and gone back */
    int16_t note_ticks[US_FOLLOWER_NOTES]; /* positions of the last notes, low bits; index: note % size */
};

/* An earlier place where the last few pitches were heard in the same order: the tune comes back, or the
   player has gone back. */
struct us_follower_echo {
    uint32_t note;  /* which note sounded like the newest one */
    uint8_t length; /* how many notes are alike */
    float weight;   /* the same, a repeated pitch counted for half */
    bool paused;    /* the alike notes begin after a pause */
};

struct us_follower_note {
    double at_s, off_s; /* off negative while held */
    uint8_t pitch, velocity;
    bool stopped; /* the player had stopped before it */
};

struct us_follower {
    struct us_follower_settings settings;
    struct us_follower_metre metres[US_FOLLOWER_METRES];
    uint8_t metre_count;

    int64_t now_ns, origin_ns; /* the last time seen; time zero of the run */
    struct us_follower_guess guesses[2][US_FOLLOWER_GUESSES];
    uint16_t guess_count;
    uint8_t side;        /* which half of `guesses` is in use */
    uint16_t best, root; /* the guess believed in, and its root */
    uint32_t root_since; /* note from which on that root has been believed in */
    float sure;

    struct us_follower_note notes[US_FOLLOWER_NOTES]; /* newest at (note_count - 1) % size */
    uint32_t note_count;                              /* onsets so far */
    uint32_t run_note;                                /* the first one of this run */
    struct us_follower_echo echoes[US_FOLLOWER_ECHOES];
    uint8_t echo_count;
    uint8_t keys_down[US_PITCHES / 8];
    int held;
    double last_off_s;
    float hold_mean, hold_var; /* logarithm of length held / length written */
    float drift;               /* how fast the tempo wanders, relative, a quarter */
    float loudness;            /* usual velocity */
    float jitter_s;            /* how exact the player is */
    float repeats;             /* how many notes of this tune repeat the one before */
    float graces;              /* how many are grace notes */
    int64_t tap_ns;
    bool tapped;
    float tempo_guess_s; /* seconds a quarter from settings, taps or the run before; 0 unknown */

    /* What has been declared. */
    bool running, waiting, unscheduled; /* due_ns and waiting are still to be worked out */
    int32_t declared_ticks;             /* last beat declared, in the best guess's ticks */
    double declared_s;
    bool declared_bar;
    int64_t due_ns;
    bool due_ends;
};

#endif
