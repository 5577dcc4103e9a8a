#include "keyfinder_parts.h"

#include <math.h>

const uint8_t us_key_table_of[US_MODES] = {0, 1, 1, 0};
const double us_key_mode_costs[US_MODES] = {0, 0, 3, 3};

/* In dorian the raised sixth takes the place of the sixth of minor (the low one is as foreign as a raised
   fourth), in mixolydian the two sevenths of major change places. */
static const uint8_t PLACE[US_MODES][US_PITCH_CLASSES] = {
    {0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11},
    {0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11},
    {0, 1, 2, 3, 4, 5, 6, 7, 6, 8, 10, 11},
    {0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 11, 10},
};

int us_key_moved(int key, int semitones)
{
    return us_pitch_class(key / US_MODES + semitones) * US_MODES + key % US_MODES;
}

/* The degree of the table at which the pitch is looked up. */
static int place_of(int key, int pitch)
{
    return PLACE[key % US_MODES][us_pitch_class(pitch - key / US_MODES)];
}

double us_key_says(const int16_t table[KEY_TABLES][US_PITCH_CLASSES], int key, int pitch)
{
    return table[us_key_table_of[key % US_MODES]][place_of(key, pitch)] / 1000.0;
}

/* Semitones above the tonic, round the octave. */
static int above(int class, int tonic)
{
    return class >= tonic ? class - tonic : class - tonic + US_PITCH_CLASSES;
}

void us_key_all_say(const int16_t table[KEY_TABLES][US_PITCH_CLASSES], int pitch, double counts,
                    double says[US_KEY_COUNT])
{
    int class = us_pitch_class(pitch);
    for (int mode = 0; mode < US_MODES; mode++) {
        const int16_t *row = table[us_key_table_of[mode]];
        for (int tonic = 0; tonic < US_PITCH_CLASSES; tonic++) {
            says[tonic * US_MODES + mode] += counts * (row[PLACE[mode][above(class, tonic)]] / 1000.0);
        }
    }
}

/* Where an interval stands in the table: as it would be in major or minor.  `from` and `to` are semitones
   above the tonic, round the octave. */
static int interval_index(int mode, int semitones, int from, int to)
{
    int interval = semitones + (PLACE[mode][to] - to) - (PLACE[mode][from] - from);
    return interval < -12 ? 0 : interval > 12 ? KEY_INTERVALS - 1 : interval + 12;
}

double us_key_interval_says(const struct us_key_tables *t, int key, int from, int to)
{
    int mode = key % US_MODES, tonic = key / US_MODES, from_above = us_pitch_class(from - tonic);
    int index = interval_index(mode, to - from, from_above, us_pitch_class(to - tonic));
    return t->interval[us_key_table_of[mode]][PLACE[mode][from_above]][index] / 1000.0;
}

void us_key_note_says(const struct us_key_tables *t, int before, int from, int to, struct us_key_says *out)
{
    int class_before = us_pitch_class(before), class_from = us_pitch_class(from),
        class_to = us_pitch_class(to);
    for (int mode = 0; mode < US_MODES; mode++) {
        const uint8_t *place = PLACE[mode];
        int table = us_key_table_of[mode];
        for (int tonic = 0; tonic < US_PITCH_CLASSES; tonic++) {
            int key = tonic * US_MODES + mode;
            int from_above = above(class_from, tonic), to_above = above(class_to, tonic);
            int from_place = place[from_above], to_place = place[to_above];
            int index = interval_index(mode, to - from, from_above, to_above);
            out->profile[key] = t->profile[table][to_place];
            out->interval[key] = t->interval[table][from_place][index];
            out->after_two[key] =
                t->after_two[table][place[above(class_before, tonic)]][from_place][to_place];
        }
    }
}

int us_key_best(const double log_weight[US_KEY_COUNT])
{
    int best = 0;
    for (int key = 1; key < US_KEY_COUNT; key++)
        if (log_weight[key] > log_weight[best]) best = key;
    return best;
}

double us_key_share(const double log_weight[US_KEY_COUNT], int best)
{
    double sum = 0;
    for (int key = 0; key < US_KEY_COUNT; key++)
        sum += exp(log_weight[key] - log_weight[best]);
    return 1.0 / sum;
}

struct us_key us_key_with_mode(int key, const double heard[US_PITCH_CLASSES])
{
    int tonic = key / US_MODES;
    double sixth = heard[us_pitch_class(tonic + 9)], low_sixth = heard[us_pitch_class(tonic + 8)];
    double seventh = heard[us_pitch_class(tonic + 11)], low_seventh = heard[us_pitch_class(tonic + 10)];
    enum us_mode mode = (enum us_mode)us_key_table_of[key % US_MODES];
    if (mode == US_MODE_MINOR && sixth > 1.5 && sixth >= 4 * low_sixth && low_seventh >= seventh)
        mode = US_MODE_DORIAN;
    if (mode == US_MODE_MAJOR && low_seventh > 1.5 && low_seventh >= 4 * seventh) mode = US_MODE_MIXOLYDIAN;
    return (struct us_key){(int8_t)tonic, (uint8_t)mode};
}
