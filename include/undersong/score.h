/* Following the player through a tune that is known, in whatever key it is played: on-line alignment that
   survives wrong, missing, added and repeated notes, skipped or repeated phrases and restarts anywhere. Pure,
   fixed size. */
#ifndef UNDERSONG_SCORE_H
#define UNDERSONG_SCORE_H

#include "undersong/tune.h"

enum { US_SCORE_NOTES_MAX = 1536 };

/* A tune made ready to be followed.  The caller owns it; it is not changed while followers use it. */
struct us_score {
    uint16_t count;
    int8_t pitch[US_SCORE_NOTES_MAX];
    uint8_t
        entry[US_SCORE_NOTES_MAX]; /* 1 where a player may start again: the first note of a bar or a phrase */
    float at[US_SCORE_NOTES_MAX];  /* quarters from the start of the file */
    float log_gap[US_SCORE_NOTES_MAX]; /* log of the quarters since the note before; 0 at the first */
    struct us_tune tune;               /* without a pickup where it is not known */
};

/* Takes the tune's first US_SCORE_NOTES_MAX notes; the tune's arrays must live as long as the score.  False
   where it has fewer than two notes. */
bool us_score_init(struct us_score *score, const struct us_tune *tune);

/* Where the player is: a probability for every place of the tune and every transposition. */
struct us_score_follower {
    const struct us_score *score;
    uint16_t loop_first, loop_last; /* the part that is played round and round; both 0: none */
    /* By four transpositions, place and one of the four; padded, see score_step.h. */
    float weight[US_PITCH_CLASSES / 4][US_SCORE_NOTES_MAX + 8][4];
    float scale;   /* times `weight` is the probability */
    float new_key; /* how often a note begins in another key; us_score_follow() sets it for a tune that was
                      named */
    float new_key_at_start; /* and how often the tune itself does, from its start; likewise */
    int64_t last_ns;
    float log_quarter_ns; /* log of the tempo; 0 before it is known */
    float mass[US_PITCH_CLASSES],
        most[US_PITCH_CLASSES]; /* of each transposition: all of it, its best place's */
    int16_t place;              /* the note just played, as it seems; -1 before the first */
    int8_t transposition;       /* semitones from the tune as written, 0 to 11 upwards */
    float sure;                 /* 0 to 1: how much of the probability lies at this place and transposition */
    float trust;                /* log odds that it is this tune and no other; above 0 the tune may lead */
    uint32_t heard;
};

/* `trust` is where trust starts: about 2 where the player said which tune it is, below 0 for a guess. */
void us_score_follow(struct us_score_follower *f, const struct us_score *score, float trust);
/* The player means to play the notes `first` to `last` round and round.  Going on past them is followed too.
   Both 0: no part.  At any time; before the first note it is likely to begin there. */
void us_score_loop(struct us_score_follower *f, int first, int last);
/* As us_score_follow() for a tune that is already being played: its note `place` was the last one,
   `transposition` semitones up (0 to 11), at `at_ns`, after a gap of `gap_ns`. */
void us_score_follow_from(struct us_score_follower *f, const struct us_score *score, float trust, int place,
                          int transposition, int64_t at_ns, int64_t gap_ns);
/* One note of the player. */
void us_score_note(struct us_score_follower *f, int64_t at_ns, int pitch);
/* For a score that grows as it is played: its first `count` notes are taken out, the others stand that much
   earlier now; the score itself is moved by the caller. */
void us_score_forget_before(struct us_score_follower *f, int count);
/* And the same for the notes from `count` on. */
void us_score_forget_after(struct us_score_follower *f, int count);
/* The chord of the tune at `quarters` from the start of the file, transposed as it is played; US_NO_CHORD
   where none is written there. */
struct us_chord us_score_chord(const struct us_score_follower *f, double quarters);
/* The key of the tune as it is played. */
struct us_key us_score_key(const struct us_score_follower *f);

#endif
