/* Tunes with chords as the networks see them. */
#ifndef MODEL_LESSON_H
#define MODEL_LESSON_H

#include "harmony_frame.h"
#include "net_train.h"
#include "undersong/harmony_learn.h"

/* A tune as it is written down: with all its repeats, or its first sixteen bars, as a learner notes it.  Were
   there only the former, a tune would pass for a hymn because it is short. */
struct lesson_text {
    struct us_tune tune;
    size_t count; /* beats; 0 where there is no shorter one */
    float style, clues[US_STYLE_CLUES];
};
enum lesson_length { LESSON_WHOLE, LESSON_BEGUN, LESSON_LENGTHS };

/* Beats of a tune with their answers, before the key turns them into frames. */
struct lesson {
    const struct us_harmony_lesson *from;
    struct us_harmony_request request;
    size_t count;
    int8_t *role, *chord; /* -1 where no chord is written */
    struct lesson_text text[LESSON_LENGTHS];
};

/* `from` must live as long as the lesson.  No beats without chords or a key.  False on lack of memory; there
   is nothing to finish then. */
bool lesson_init(struct lesson *l, const struct us_harmony_lesson *from);
void lesson_finish(struct lesson *l);
/* Frames as heard live, with the styles that `tables` tell; count * US_NET_IN numbers.  `notes` are the
   tune's or a variation of them, `heard` is room for as many. */
void lesson_live_frames(const struct lesson *l, const struct us_note *notes, struct us_note *heard,
                        const struct us_harmony_tables *tables, float *frames);
/* The same for one of the lesson's texts as a whole, in its style; text->count * US_NET_IN numbers. */
void lesson_text_frames(const struct lesson *l, const struct lesson_text *text, const struct us_note *notes,
                        float *frames);
/* The styles of the texts, by the weights of whole tunes. */
void lesson_find_styles(struct lesson *l, const float *weights);

/* A live model that is played a tune, `up` semitones higher, in a key. */
struct lesson_hearing {
    struct us_harmony_live *h;
    const struct us_tune *tune;
    const struct us_grid *grid;
    struct us_key key; /* as it is played */
    int up;
    size_t next; /* the first note that was not played yet */
};
/* Plays the notes up to a beat of the grid, each from its place in its bar; in all else `position`, the
   beat's, is theirs. */
void lesson_hear(struct lesson_hearing *hearing, size_t beat, const struct us_position *position);

/* How hymns are told from dances: fills the weights of both, over a whole tune and live, from lessons that
   say which they are.  False on lack of memory. */
bool learn_style(const struct lesson *lessons, size_t count, struct us_harmony_tables *out);
/* How chords follow each other, and which bear a seventh: fills class_move and seventh. */
void learn_moves(const struct lesson *lessons, size_t count, struct us_harmony_tables *out);
/* How often the written roles change: the slowest rate that nine of ten beats keep to. */
enum us_change lesson_rate(const struct lesson *l);
/* How that is told from the tune: fills rate_whole and rate_live; all else of `out` must have been learned.
   False on lack of memory. */
bool learn_rates(const struct lesson *lessons, size_t count, struct us_harmony_tables *out);

#endif
