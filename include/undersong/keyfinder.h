/* Which key is being played: an estimate at every note, from the melody alone.  Pure, fixed size, any one
 * thread. */
#ifndef UNDERSONG_KEYFINDER_H
#define UNDERSONG_KEYFINDER_H

#include "undersong/key.h"

enum { US_KEY_COUNT = US_PITCH_CLASSES * US_MODES, US_KEY_OPENING = 6, US_KEY_RECENT = US_KEY_OPENING + 2 };

struct us_key_tables;

/* What is known since the player started anew: part of struct us_keyfinder. */
struct us_key_run {
    double log_weight[US_KEY_COUNT];  /* index: tonic * US_MODES + mode */
    double stands_out[US_KEY_COUNT];  /* what low, high, bar_pitch and longest add to it */
    double heard[US_PITCH_CLASSES];   /* how often each pitch class was heard, fading */
    int16_t last_pitch, pitch_before; /* of this run; -1: none yet */
    uint32_t notes;
    int8_t held;                           /* the answer that is held, or -1 */
    int16_t low, high, bar_pitch, longest; /* what stands out in its opening; -1: nothing yet */
    double longest_length, bar_sure;
    /* How the tune began and in which key, to know it again when it begins in another one. */
    int8_t opening_key; /* an index, or -1 */
    int16_t opening[US_KEY_OPENING], opening_before[US_KEY_OPENING];
    uint8_t opening_before_count;
    int8_t held_before;
    double opening_length[US_KEY_OPENING]; /* how long its notes lasted */
};

/* Visible so that a caller can own and copy it.  The fields are the module's own. */
struct us_keyfinder {
    const struct us_key_tables *tables;
    struct us_key_run run;
    struct us_key_run before; /* what was known when the tune seemed to begin in another key */
    uint8_t
        proving; /* the new run's notes that were taken before; it is still to be proved.  0: nothing is */
    bool locked;
    struct us_key lock;
    /* The last notes, oldest first, and how long they lasted. */
    int16_t recent[US_KEY_RECENT];
    double recent_length[US_KEY_RECENT];
    uint8_t since_stop; /* notes since the player last stopped; 255: long ago */
};

/* Nothing heard, nothing locked. */
void us_keyfinder_init(struct us_keyfinder *k);
/* From now on the key is `key`, whatever is played; a key with US_NO_KEY unlocks. */
void us_keyfinder_lock(struct us_keyfinder *k, struct us_key key);
/* One melody note.  `weight` is 1.5 or more on a bar line, else 1.0, also where unknown; `fresh`
   says that the player starts anew (after a long rest, or the tune from its start), when a change of key is
   likely: the same opening in another key is then known at its third note. */
void us_keyfinder_note(struct us_keyfinder *k, int pitch, double weight, bool fresh);
/* The first note on a bar line since the player started anew is `pitch`, as far as is known by now (-1: none
   yet), with that probability: call after each note.  Later news replace earlier ones; optional. */
void us_keyfinder_bar(struct us_keyfinder *k, int pitch, double sure);
/* The player stopped before the note that comes next: call before it.  Where the next three notes are the
   run's opening in another key, in its rhythm, the tune is taken to begin again there.  Without a stop so it
   is where three to US_KEY_OPENING such notes are unlikely enough in the key so far; where the notes after
   them are not the opening's, that is taken back. */
void us_keyfinder_stopped(struct us_keyfinder *k);
/* How long the last note lasted, from its onset to the next one's, in any unit: call before the next note.
   Optional; the longest note of an opening tells of the key. */
void us_keyfinder_lasted(struct us_keyfinder *k, double length);
/* The best key now, and how sure it is (0 to 1; may be NULL).  US_NO_KEY before the first note.  Dorian and
   mixolydian are answered only where the sixth or seventh that marks them is heard again and again. */
struct us_key us_keyfinder_best(const struct us_keyfinder *k, double *probability);

/* The key of a whole tune of `count` melody notes.  `probability`
   (0 to 1) may be NULL.  US_NO_KEY for no notes. */
struct us_key us_key_of_tune(const int *pitches, size_t count, double *probability);

/* The keys that a whole tune may be in, likeliest first: those less than US_KEY_DOUBT behind the first.
   Writes at most `max` and returns how many.  us_harmony_key() (harmony.h) chooses among them with the
   chords. */
#define US_KEY_DOUBT 4.0
struct us_key_candidate {
    struct us_key key;
    double log_weight; /* natural log, 0 for the first */
};
size_t us_keys_of_tune(const int *pitches, size_t count, struct us_key_candidate *out, size_t max);

/* From note `from` on the tune is in `key`. */
struct us_key_change {
    size_t from;
    struct us_key key;
};
/* The changes of key inside a tune: fills at most `size` spans, the first from note 0, and returns how many.
   `home` is the key of the whole; a passage of less than about eight bars' worth of other notes is no change.
 */
size_t us_key_changes(const int *pitches, size_t count, struct us_key home, struct us_key_change *spans,
                      size_t size);

#endif
