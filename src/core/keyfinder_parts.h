/* What the learned tables say of a key.  Keys are indices here: tonic * US_MODES + mode. */
#ifndef CORE_KEYFINDER_PARTS_H
#define CORE_KEYFINDER_PARTS_H

#include "undersong/keyfinder.h"

enum { KEY_TABLES = 2, KEY_INTERVALS = 25, KEY_OPENING_NOTES = 8 };

/* Natural log probabilities in thousandths; [0] major, [1] minor; by degree, in semitones above the tonic. */
struct us_key_tables {
    int16_t family[KEY_TABLES];
    int16_t first[KEY_TABLES][US_PITCH_CLASSES]; /* the first note */
    int16_t bar[KEY_TABLES][US_PITCH_CLASSES];   /* the first note on a bar line */
    int16_t low[KEY_TABLES][US_PITCH_CLASSES];   /* the lowest of the first eight */
    int16_t high[KEY_TABLES][US_PITCH_CLASSES];  /* the highest of them */
    int16_t longest[KEY_TABLES][US_PITCH_CLASSES];
    int16_t last[KEY_TABLES][US_PITCH_CLASSES]; /* the tune's last note */
    int16_t profile[KEY_TABLES][US_PITCH_CLASSES];
    int16_t interval[KEY_TABLES][US_PITCH_CLASSES][KEY_INTERVALS]; /* 12 down to 12 up, from a degree */
    int16_t after_two[KEY_TABLES][US_PITCH_CLASSES][US_PITCH_CLASSES][US_PITCH_CLASSES];
};

extern const struct us_key_tables us_key_tables_built_in;

/* Dorian is minor with its sixth raised, mixolydian major with its seventh lowered: both rare, and they must
   earn their answer. */
extern const uint8_t us_key_table_of[US_MODES];
extern const double us_key_mode_costs[US_MODES];

/* The key so many semitones higher. */
int us_key_moved(int key, int semitones);
double us_key_says(const int16_t table[KEY_TABLES][US_PITCH_CLASSES], int key, int pitch);
/* Adds to `says`, key by key, what us_key_says() says, times `counts`. */
void us_key_all_say(const int16_t table[KEY_TABLES][US_PITCH_CLASSES], int pitch, double counts,
                    double says[US_KEY_COUNT]);
double us_key_interval_says(const struct us_key_tables *t, int key, int from, int to);

/* What one note says of all keys, in thousandths: by itself, after `from`, and after `before` and `from`. */
struct us_key_says {
    int16_t profile[US_KEY_COUNT], interval[US_KEY_COUNT], after_two[US_KEY_COUNT];
};
void us_key_note_says(const struct us_key_tables *t, int before, int from, int to, struct us_key_says *out);

int us_key_best(const double log_weight[US_KEY_COUNT]);
/* The share of `best` among all. */
double us_key_share(const double log_weight[US_KEY_COUNT], int best);
/* Minor or dorian, major or mixolydian: the mark must be heard more than once, and its rival hardly. */
struct us_key us_key_with_mode(int key, const double heard[US_PITCH_CLASSES]);

/* How many of the last notes begin the run's tune in another key; 0: none (keyfinder_again.c). */
int keyfinder_begun_elsewhere(const struct us_keyfinder *k);
/* With the newest note, whether what was then taken to begin elsewhere still seems to. */
bool keyfinder_still_elsewhere(const struct us_keyfinder *k);

/* As the public functions, with other tables: for the program that learns them. */
void us_keyfinder_init_with(struct us_keyfinder *k, const struct us_key_tables *tables);
struct us_key us_key_of_tune_with(const struct us_key_tables *t, const int *pitches, size_t count,
                                  double *probability);

#endif
