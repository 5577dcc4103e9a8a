/* The key of a whole tune, and the changes of key inside it. */
#include "keyfinder_parts.h"

#include <math.h>

/* The steps of the part where a tune is most surely at home: its first half, or all of a short one. */
static double steps_at_home(const struct us_key_tables *t, const int *pitches, size_t count, int key)
{
    static const double STEPS = 0.3, NOTES_TO_SATURATE = 16;
    static const size_t SHORT_TUNE = 24;
    size_t until = count / 2;
    if (until < SHORT_TUNE) until = count < SHORT_TUNE ? count : SHORT_TUNE;
    double sum = 0;
    for (size_t i = 1; i < until; i++)
        sum += us_key_interval_says(t, key, pitches[i - 1], pitches[i]);
    return STEPS * sum / sqrt(1.0 + (double)until / NOTES_TO_SATURATE);
}

/* The end of a short tune tells its key almost by itself; a long one is a chain of strains, and the last may
   be in another key than the first. */
static double last_note_counts(size_t count)
{
    return 0.8 + 2.0 * exp(-(double)count / 75.0);
}
static const double LAST_IN_MINOR = 0.3; /* more: songs in minor end on their tonic */

/* How the tune begins, its steps, and where it ends. */
static void weigh_tune(const struct us_key_tables *t, const int *pitches, size_t count,
                       double weight[US_KEY_COUNT])
{
    static const double PRIOR = 0.28, FIRST = 0.77, EXTREMES = 0.2;
    double last_counts = last_note_counts(count);
    int low = pitches[0], high = pitches[0];
    for (size_t i = 1; i < count && i < KEY_OPENING_NOTES; i++) {
        if (pitches[i] < low) low = pitches[i];
        if (pitches[i] > high) high = pitches[i];
    }
    for (int key = 0; key < US_KEY_COUNT; key++) {
        int mode = key % US_MODES;
        weight[key] = PRIOR * t->family[us_key_table_of[mode]] / 1000.0 +
                      FIRST * us_key_says(t->first, key, pitches[0]) + steps_at_home(t, pitches, count, key) +
                      (last_counts + LAST_IN_MINOR * us_key_table_of[mode]) *
                          us_key_says(t->last, key, pitches[count - 1]) +
                      EXTREMES * (us_key_says(t->low, key, low) + us_key_says(t->high, key, high)) -
                      us_key_mode_costs[mode];
    }
}

static void count_heard(const int *pitches, size_t count, double heard[US_PITCH_CLASSES])
{
    for (int i = 0; i < US_PITCH_CLASSES; i++)
        heard[i] = 0;
    for (size_t i = 0; i < count; i++)
        heard[us_pitch_class(pitches[i])] += 1;
}

struct us_key us_key_of_tune_with(const struct us_key_tables *t, const int *pitches, size_t count,
                                  double *probability)
{
    if (probability) *probability = 0;
    if (count == 0) return (struct us_key){US_NO_KEY, US_MODE_MAJOR};
    double weight[US_KEY_COUNT], heard[US_PITCH_CLASSES];
    weigh_tune(t, pitches, count, weight);
    int best = us_key_best(weight);
    if (probability) *probability = us_key_share(weight, best);
    count_heard(pitches, count, heard);
    return us_key_with_mode(best, heard);
}

struct us_key us_key_of_tune(const int *pitches, size_t count, double *probability)
{
    return us_key_of_tune_with(&us_key_tables_built_in, pitches, count, probability);
}

static bool is_listed(const struct us_key_candidate *list, size_t count, struct us_key key)
{
    for (size_t i = 0; i < count; i++)
        if (us_key_equal(list[i].key, key)) return true;
    return false;
}

size_t us_keys_of_tune(const int *pitches, size_t count, struct us_key_candidate *out, size_t max)
{
    double weight[US_KEY_COUNT], heard[US_PITCH_CLASSES], most = 0;
    size_t found = 0;
    if (count == 0) return 0;
    weigh_tune(&us_key_tables_built_in, pitches, count, weight);
    count_heard(pitches, count, heard);
    for (bool first = true; found < max; first = false) {
        int best = us_key_best(weight);
        if (first) most = weight[best];
        if (weight[best] < most - US_KEY_DOUBT) break;
        struct us_key key = us_key_with_mode(best, heard);
        if (!is_listed(out, found, key)) out[found++] = (struct us_key_candidate){key, weight[best] - most};
        weight[best] = -INFINITY;
    }
    return found;
}

/* How much better note i (with the one before it) fits `key` than `home`. */
static double gain_at(const int *pitches, size_t i, int key, int home)
{
    const struct us_key_tables *t = &us_key_tables_built_in;
    double gain =
        0.5 * (us_key_says(t->profile, key, pitches[i]) - us_key_says(t->profile, home, pitches[i]));
    if (i > 0)
        gain += 0.5 * (us_key_interval_says(t, key, pitches[i - 1], pitches[i]) -
                       us_key_interval_says(t, home, pitches[i - 1], pitches[i]));
    return gain;
}

struct passage {
    size_t from, until;
    int key;
    double gain;
};

/* The run of notes inside [from, until) that another key than `home` explains best: for each key the run
   whose gains add up to most. */
static struct passage best_passage(const int *pitches, size_t from, size_t until, int home)
{
    struct passage best = {from, from, home, 0};
    for (int key = 0; key < US_KEY_COUNT; key++) {
        bool only_mode = key / US_MODES == home / US_MODES &&
                         us_key_table_of[key % US_MODES] == us_key_table_of[home % US_MODES];
        if (only_mode) continue;
        double sum = -us_key_mode_costs[key % US_MODES];
        size_t start = from;
        for (size_t i = from; i < until; i++) {
            sum += gain_at(pitches, i, key, home);
            if (sum <= -us_key_mode_costs[key % US_MODES]) {
                sum = -us_key_mode_costs[key % US_MODES];
                start = i + 1;
            } else if (sum > best.gain) {
                best = (struct passage){start, i + 1, key, sum};
            }
        }
    }
    return best;
}

static size_t add_span(struct us_key_change *spans, size_t size, size_t count, size_t from, struct us_key key)
{
    if (count > 0 && us_key_equal(spans[count - 1].key, key)) return count;
    if (count > 0 && spans[count - 1].from == from) count--;
    if (count < size) spans[count++] = (struct us_key_change){from, key};
    return count;
}

enum { ENDS_BELONG = 10 };

static bool is_change(const struct passage *p)
{
    static const double GAIN_OF_A_CHANGE = 20.0;
    static const size_t SHORTEST = 16;
    return p->gain >= GAIN_OF_A_CHANGE && p->until - p->from >= SHORTEST;
}

size_t us_key_changes(const int *pitches, size_t count, struct us_key home, struct us_key_change *spans,
                      size_t size)
{
    if (size == 0 || count == 0) return 0;
    size_t used = add_span(spans, size, 0, 0, home), done = 0;
    if (home.tonic == US_NO_KEY) return used;
    int home_index = home.tonic * US_MODES + home.mode;
    while (done < count && used < size) {
        /* Passages in order: the best of the rest may lie late, so look before it first. */
        struct passage p = best_passage(pitches, done, count, home_index), earlier = p;
        while (is_change(&earlier)) {
            p = earlier;
            earlier = best_passage(pitches, done, p.from, home_index);
        }
        if (!is_change(&p)) break;
        /* A few notes left over at either end belong to it. */
        if (count - p.until < ENDS_BELONG) p.until = count;
        if (p.from < ENDS_BELONG) p.from = 0;
        used = add_span(spans, size, used, p.from,
                        (struct us_key){(int8_t)(p.key / US_MODES), (uint8_t)(p.key % US_MODES)});
        if (p.until < count) used = add_span(spans, size, used, p.until, home);
        done = p.until;
    }
    return used;
}
