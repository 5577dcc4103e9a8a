#include "undersong/keyfinder.h"

#include "../model/key_tables.h"

#include <math.h>
#include <string.h>

/* How much each kind of evidence counts; found on the tunes that the tables are learned from, each tune
   judged by tables that had not seen it. */
static const double FIRST_COUNTS = 1.0, PRIOR_COUNTS = 0.5;
static const double INTERVAL_COUNTS = 0.3, AFTER_TWO_COUNTS = 0.3, PROFILE_COUNTS = 0.5;
/* A note counts in full at the start, less as the run goes on, because neighbouring notes say the same. */
static const double NOTES_TO_FADE = 16.0, FADED_MOST = 0.2;
/* Another key must be better by so much (natural log) to be answered: more with each note, as trust grows. */
static const double HOLD_FIRST = 1.0, HOLD_GROWS = 0.2, HOLD_MOST = 8.0;
static const double MEMORY = 24.0; /* no key falls further behind: what was played long ago is no burden */
static const double KNOWN_AGAIN = 8.0; /* the tune's own opening in another key */
static const double HEARD_FADES = 0.99;
static const uint32_t NOTES_TO_SETTLE = 8;

/* The tables know major and minor.  Dorian is minor with its sixth raised and mixolydian major with its
   seventh lowered: there the two sixths or sevenths change places.  Both are rare, and must earn their
   answer. */
static const uint8_t TABLE_OF[US_MODES] = {0, 1, 1, 0};
static const double MODE_COSTS[US_MODES] = {0, 0, 3, 3};
static const uint8_t PLACE[US_MODES][US_PITCH_CLASSES] = {
    {0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11},
    {0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11},
    {0, 1, 2, 3, 4, 5, 6, 7, 6, 8, 10, 11},
    {0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 11, 10},
};

static double nats(int16_t thousandths)
{
    return thousandths / 1000.0;
}

static int place_in(int key, int pitch)
{
    return PLACE[key % US_MODES][us_pitch_class(pitch - key / US_MODES)];
}

static double prior_of(int key)
{
    return nats(US_KEY_FAMILY[TABLE_OF[key % US_MODES]]);
}

static double first_says(int key, int pitch)
{
    return nats(US_KEY_FIRST[TABLE_OF[key % US_MODES]][place_in(key, pitch)]);
}

static double last_says(int key, int pitch)
{
    return nats(US_KEY_LAST[TABLE_OF[key % US_MODES]][place_in(key, pitch)]);
}

static double profile_says(int key, int pitch)
{
    return nats(US_KEY_PROFILE[TABLE_OF[key % US_MODES]][place_in(key, pitch)]);
}

/* The step from one pitch to the next, which way it goes included. */
static double interval_says(int key, int from, int to)
{
    int tonic = key / US_MODES, place_from = place_in(key, from), place_to = place_in(key, to);
    int interval =
        to - from + (place_to - us_pitch_class(to - tonic)) - (place_from - us_pitch_class(from - tonic));
    int index = interval < -12 ? 0 : interval > 12 ? 24 : interval + 12;
    return nats(US_KEY_INTERVAL[TABLE_OF[key % US_MODES]][place_from][index]);
}

static double after_two_says(int key, int before, int from, int to)
{
    return nats(US_KEY_AFTER_TWO[TABLE_OF[key % US_MODES]][place_in(key, before)][place_in(key, from)]
                                [place_in(key, to)]);
}

static struct us_key key_at(int key)
{
    return (struct us_key){(int8_t)(key / US_MODES), (uint8_t)(key % US_MODES)};
}

void us_keyfinder_init(struct us_keyfinder *k)
{
    memset(k, 0, sizeof *k);
    k->last_pitch = k->pitch_before = -1;
    k->held = k->held_before = -1;
    k->lock.tonic = US_NO_KEY;
}

void us_keyfinder_lock(struct us_keyfinder *k, struct us_key key)
{
    k->lock = key;
    k->locked = key.tonic != US_NO_KEY;
}

/* What the first note of a run says; where a key was known, it stays likely. */
static void start_run(struct us_keyfinder *k, int pitch)
{
    if (k->notes > 2) {
        k->opening_before_count = (uint8_t)(k->notes < US_KEY_OPENING ? k->notes : US_KEY_OPENING);
        memcpy(k->opening_before, k->opening, sizeof k->opening);
        k->held_before = k->held;
    }
    for (int key = 0; key < US_KEY_COUNT; key++)
        k->log_weight[key] =
            PRIOR_COUNTS * prior_of(key) + FIRST_COUNTS * first_says(key, pitch) - MODE_COSTS[key % US_MODES];
    if (k->held_before >= 0) k->log_weight[k->held_before] += 1.0;
    k->notes = 0;
    k->held = -1;
    k->last_pitch = k->pitch_before = -1;
    memset(k->heard, 0, sizeof k->heard);
}

static double note_says(const struct us_keyfinder *k, int key, int pitch, double weight)
{
    double says = PROFILE_COUNTS * weight * profile_says(key, pitch);
    if (k->last_pitch >= 0) says += INTERVAL_COUNTS * interval_says(key, k->last_pitch, pitch);
    if (k->pitch_before >= 0)
        says += AFTER_TWO_COUNTS * after_two_says(key, k->pitch_before, k->last_pitch, pitch);
    return says;
}

static int best_key(const double *log_weight)
{
    int best = 0;
    for (int key = 1; key < US_KEY_COUNT; key++)
        if (log_weight[key] > log_weight[best]) best = key;
    return best;
}

/* The key in which the remembered opening has been started again, or -1.  Three notes with the same two
   intervals are enough. */
static int known_again(const struct us_keyfinder *k)
{
    uint32_t n = k->notes < k->opening_before_count ? k->notes : k->opening_before_count;
    if (k->held_before < 0 || k->notes < 3 || k->notes > US_KEY_OPENING || n < 3) return -1;
    int shift = k->opening[0] - k->opening_before[0];
    for (uint32_t i = 1; i < n; i++)
        if (k->opening[i] - k->opening_before[i] != shift) return -1;
    return us_pitch_class(k->held_before / US_MODES + shift) * US_MODES + k->held_before % US_MODES;
}

static void settle(struct us_keyfinder *k)
{
    int best = best_key(k->log_weight);
    double top = k->log_weight[best];
    for (int key = 0; key < US_KEY_COUNT; key++)
        if (k->log_weight[key] < top - MEMORY) k->log_weight[key] = top - MEMORY;
    double hold = 0;
    if (k->notes > NOTES_TO_SETTLE) hold = HOLD_FIRST + HOLD_GROWS * (k->notes - NOTES_TO_SETTLE);
    if (hold > HOLD_MOST) hold = HOLD_MOST;
    if (k->held < 0 || top - k->log_weight[k->held] > hold) k->held = (int8_t)best;
}

void us_keyfinder_note(struct us_keyfinder *k, int pitch, double weight, bool fresh)
{
    if (k->notes == 0 || fresh) start_run(k, pitch);
    double length = weight < 0 ? 0 : weight > 2 ? 2 : weight;
    double faded = 1.0 / sqrt(1.0 + k->notes / NOTES_TO_FADE);
    if (faded < FADED_MOST) faded = FADED_MOST;
    for (int key = 0; key < US_KEY_COUNT; key++)
        k->log_weight[key] += faded * note_says(k, key, pitch, length);
    if (k->notes < US_KEY_OPENING) k->opening[k->notes] = (int16_t)pitch;
    k->notes++;
    if (k->notes == 3) {
        int again = known_again(k);
        if (again >= 0) k->log_weight[again] += KNOWN_AGAIN;
    }
    for (int c = 0; c < US_PITCH_CLASSES; c++)
        k->heard[c] *= HEARD_FADES;
    k->heard[us_pitch_class(pitch)] += 1;
    k->pitch_before = k->last_pitch;
    k->last_pitch = (int16_t)pitch;
    settle(k);
}

/* Minor or dorian, major or mixolydian: the mark must be heard more than once, and its rival hardly. */
static struct us_key with_mode(int key, const double *heard)
{
    int tonic = key / US_MODES;
    double sixth = heard[us_pitch_class(tonic + 9)], low_sixth = heard[us_pitch_class(tonic + 8)];
    double seventh = heard[us_pitch_class(tonic + 11)], low_seventh = heard[us_pitch_class(tonic + 10)];
    enum us_mode mode = (enum us_mode)TABLE_OF[key % US_MODES];
    if (mode == US_MODE_MINOR && sixth > 1.5 && sixth >= 4 * low_sixth && low_seventh >= seventh)
        mode = US_MODE_DORIAN;
    if (mode == US_MODE_MAJOR && low_seventh > 1.5 && low_seventh >= 4 * seventh) mode = US_MODE_MIXOLYDIAN;
    return (struct us_key){(int8_t)tonic, (uint8_t)mode};
}

static double share(const double *log_weight, int best)
{
    double sum = 0;
    for (int key = 0; key < US_KEY_COUNT; key++)
        sum += exp(log_weight[key] - log_weight[best]);
    return 1.0 / sum;
}

struct us_key us_keyfinder_best(const struct us_keyfinder *k, double *probability)
{
    if (k->locked || k->held < 0) {
        if (probability) *probability = k->locked ? 1.0 : 0.0;
        return k->locked ? k->lock : (struct us_key){US_NO_KEY, US_MODE_MAJOR};
    }
    if (probability) *probability = share(k->log_weight, k->held);
    return with_mode(k->held, k->heard);
}

/* The steps of the part where a tune is most surely at home: its first half, or all of a short one. */
static double steps_at_home(const int *pitches, size_t count, int key)
{
    static const double STEPS = 0.3, NOTES_TO_SATURATE = 16;
    static const size_t SHORT_TUNE = 24;
    size_t until = count / 2;
    if (until < SHORT_TUNE) until = count < SHORT_TUNE ? count : SHORT_TUNE;
    double sum = 0;
    for (size_t i = 1; i < until; i++)
        sum += interval_says(key, pitches[i - 1], pitches[i]);
    return STEPS * sum / sqrt(1.0 + (double)until / NOTES_TO_SATURATE);
}

/* How the tune begins, its steps, and where it ends, which says more in minor. */
struct us_key us_key_of_tune(const int *pitches, size_t count, double *probability)
{
    static const double PRIOR = 0.28, FIRST = 0.77, LAST[2] = {0.9, 1.05};
    if (probability) *probability = 0;
    if (count == 0) return (struct us_key){US_NO_KEY, US_MODE_MAJOR};
    double weight[US_KEY_COUNT];
    for (int key = 0; key < US_KEY_COUNT; key++) {
        int mode = key % US_MODES;
        weight[key] = PRIOR * prior_of(key) + FIRST * first_says(key, pitches[0]) +
                      steps_at_home(pitches, count, key) +
                      LAST[TABLE_OF[mode]] * last_says(key, pitches[count - 1]) - MODE_COSTS[mode];
    }
    int best = best_key(weight);
    if (probability) *probability = share(weight, best);
    double heard[US_PITCH_CLASSES] = {0};
    for (size_t i = 0; i < count; i++)
        heard[us_pitch_class(pitches[i])] += 1;
    return with_mode(best, heard);
}

/* How much better note i (with the one before it) fits `key` than `home`. */
static double gain_at(const int *pitches, size_t i, int key, int home)
{
    double gain = PROFILE_COUNTS * (profile_says(key, pitches[i]) - profile_says(home, pitches[i]));
    if (i > 0)
        gain += 0.5 * (interval_says(key, pitches[i - 1], pitches[i]) -
                       interval_says(home, pitches[i - 1], pitches[i]));
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
        bool only_mode =
            key / US_MODES == home / US_MODES && TABLE_OF[key % US_MODES] == TABLE_OF[home % US_MODES];
        if (only_mode) continue;
        double sum = -MODE_COSTS[key % US_MODES];
        size_t start = from;
        for (size_t i = from; i < until; i++) {
            sum += gain_at(pitches, i, key, home);
            if (sum <= -MODE_COSTS[key % US_MODES]) {
                sum = -MODE_COSTS[key % US_MODES];
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
        used = add_span(spans, size, used, p.from, key_at(p.key));
        if (p.until < count) used = add_span(spans, size, used, p.until, home);
        done = p.until;
    }
    return used;
}
