/* What a beat looks like to the networks. */
#ifndef UNDERSONG_HARMONY_FRAME_H
#define UNDERSONG_HARMONY_FRAME_H

#include "harmony_internal.h"
#include "undersong/harmony_tables.h"

/* Places in a frame of US_NET_IN numbers; pitch classes are counted from the tonic. */
enum us_frame_place {
    US_FRAME_SHARE = 0,  /* twelve: share of the beat that each pitch class sounds */
    US_FRAME_START = 12, /* twelve: what sounds at the beat */
    US_FRAME_MID = 24,   /* twelve: at its half, or its second third */
    US_FRAME_LATE = 36,  /* twelve: at its last quarter or third */
    US_FRAME_ONSET = 48,
    US_FRAME_HELD,
    US_FRAME_TO_COME, /* how much longer the note at the beat sounds */
    US_FRAME_SO_FAR,
    US_FRAME_HEIGHT, /* against the running mean, in octaves */
    US_FRAME_RISE,   /* against the beat before */
    US_FRAME_BAR,
    US_FRAME_HALF,
    US_FRAME_BEAT,             /* four: which beat of the bar */
    US_FRAME_PICKUP = 60,      /* before the first bar line */
    US_FRAME_BEATS = 61,       /* four: 2, 3, 4 or another number of beats in a bar */
    US_FRAME_COMPOUND = 65,    /* beats of three parts */
    US_FRAME_MINOR = 66,       /* minor or dorian */
    US_FRAME_LARGE = 67,       /* beats of half notes, or six to the bar */
    US_FRAME_BAR_OF_FOUR = 68, /* four */
    US_FRAME_FOUR_OF_TWO = 72, /* two */
    US_FRAME_FIRST_BAR = 74,
    US_FRAME_LAST_BAR = 75,
    US_FRAME_BAR_BEFORE_LAST,
    US_FRAME_BARS_TO_END = 77, /* eight: counted back from the end, in eights */
    US_FRAME_ONE = 85,
    US_FRAME_STYLE = 86 /* 0 dance-like to 1 hymn-like; what follows is always 0 */
};

/* What was heard in a beat, whatever the key. */
struct us_heard {
    float share[US_PITCH_CLASSES];
    int16_t start, mid, late; /* pitches, -1 for silence */
    bool onset;
    float to_come, so_far; /* beats */
    float height, rise;
};

/* Where the end is, negative: unknown; and the style, as in the frame. */
struct us_frame_context {
    int32_t bars_to_end;
    float style;
};

/* `now` gives what sounds at the beat, `body` what sounds inside: of the same beat over a whole tune, of the
   beat before when listening live.  `body` may be NULL. */
void us_frame_fill(float *frame, const struct us_heard *now, const struct us_heard *body, struct us_key key,
                   const struct us_position *position, const struct us_frame_context *context);

/* Which pitch class is marked in the twelve places from `first` on, in semitones above the tonic; -1: none.
 */
int us_frame_step(const float *frame, enum us_frame_place first);

/* The notes of a tune as heard from beat to beat; `running` is the mean pitch so far, set to the first pitch.
 */
struct us_ear {
    float running;
    int16_t before; /* pitch at the beat before, -1 at the start */
};
/* `compound` says that the beat has three parts. Notes are by time. */
void us_ear_listen(struct us_ear *ear, const struct us_note *notes, size_t count, double at, double beat,
                   bool compound, struct us_heard *out);

/* The frames of a whole tune, US_NET_IN numbers a beat. */
void us_frames_of_tune(const struct us_harmony_request *request, const struct us_grid *grid, float style,
                       float *frames);

void us_style_note(struct us_style_clues *clues, double quarters, int interval, int above_tonic);
/* What was heard so far counts half as much as what comes. */
void us_style_forget(struct us_style_clues *clues);
/* 0 dance-like to 1 hymn-like; `beats_log` and `repeats` say how long the tune is and how much of it
   comes back; 0 live.  `weights` may be NULL; the clues come back in `x`. */
float us_style_judge(const struct us_style_clues *clues, const float *weights, struct us_metre metre,
                     float beats_log, float repeats, float x[US_STYLE_CLUES]);
/* Clues of a whole tune, into `x`; returns the style. */
float us_style_of_tune(const struct us_tune *tune, struct us_key key, struct us_metre metre, size_t beats,
                       const float *weights, float x[US_STYLE_CLUES]);

#endif
