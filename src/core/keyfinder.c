/* The key at every note of a player. */
#include "keyfinder_parts.h"

#include <math.h>
#include <string.h>

/* How much each kind of evidence counts; found on the tunes that the tables are learned from, each tune
   judged by tables that had not seen it. */
static const double FAMILY_COUNTS = 0.6, FIRST_COUNTS = 0.6;
static const double BAR_COUNTS = 0.6, LOW_COUNTS = 0.35, HIGH_COUNTS = 0.35, LONGEST_COUNTS = 0.35;
static const double INTERVAL_COUNTS = 0.36, AFTER_TWO_COUNTS = 0.24, PROFILE_COUNTS = 0.33;
/* A note counts in full at the start, less as the run goes on, because neighbouring notes say the same. */
static const double NOTES_TO_FADE = 16.0, FADED_MOST = 0.2;
/* Another key must be better by so much (natural log) to be answered: more with each note, as trust grows. */
static const double HOLD_FIRST = 1.0, HOLD_GROWS = 0.2, HOLD_MOST = 8.0;
static const double MEMORY = 24.0; /* no key falls further behind: what was played long ago is no burden */
static const double KNOWN_AGAIN = 8.0; /* the tune's own opening in another key */
enum { OPENING_KEY_NOTES = 24 };       /* a key that is found later is another one than the opening's */
static const double SAME_KEY_AGAIN = 1.0;
static const double HEARD_FADES = 0.99;
static const double ON_A_BAR_LINE = 1.5;
enum { NO_PITCH = -1 };

void us_keyfinder_init_with(struct us_keyfinder *k, const struct us_key_tables *tables)
{
    memset(k, 0, sizeof *k);
    k->tables = tables;
    k->run.last_pitch = k->run.pitch_before = NO_PITCH;
    k->since_stop = UINT8_MAX;
    k->run.held = k->run.held_before = k->run.opening_key = -1;
    k->lock.tonic = US_NO_KEY;
}

void us_keyfinder_init(struct us_keyfinder *k)
{
    us_keyfinder_init_with(k, &us_key_tables_built_in);
}

void us_keyfinder_lock(struct us_keyfinder *k, struct us_key key)
{
    k->lock = key;
    k->locked = key.tonic != US_NO_KEY;
}

static void remember_opening(struct us_keyfinder *k)
{
    if (k->run.notes <= 2) return;
    k->run.opening_before_count = (uint8_t)(k->run.notes < US_KEY_OPENING ? k->run.notes : US_KEY_OPENING);
    memcpy(k->run.opening_before, k->run.opening, sizeof k->run.opening);
    k->run.held_before = k->run.held;
}

/* What the first note of a run says; where a key was known, it stays likely. */
static void start_run(struct us_keyfinder *k, int pitch)
{
    remember_opening(k);
    for (int key = 0; key < US_KEY_COUNT; key++) {
        int table = us_key_table_of[key % US_MODES];
        k->run.log_weight[key] = FAMILY_COUNTS * k->tables->family[table] / 1000.0 +
                                 FIRST_COUNTS * us_key_says(k->tables->first, key, pitch) -
                                 us_key_mode_costs[key % US_MODES];
    }
    if (k->run.held_before >= 0) k->run.log_weight[k->run.held_before] += SAME_KEY_AGAIN;
    k->run.notes = 0;
    k->run.held = k->run.opening_key = -1;
    k->run.last_pitch = k->run.pitch_before = NO_PITCH;
    k->run.low = k->run.high = (int16_t)pitch;
    k->run.bar_pitch = k->run.longest = NO_PITCH;
    k->run.longest_length = 0;
    memset(k->run.heard, 0, sizeof k->run.heard);
}

/* Adds what this note says to the weights. */
static void hear(struct us_keyfinder *k, int pitch, double faded)
{
    bool follows = k->run.last_pitch != NO_PITCH, follows_two = k->run.pitch_before != NO_PITCH;
    double interval_counts = follows ? INTERVAL_COUNTS : 0,
           after_two_counts = follows_two ? AFTER_TWO_COUNTS : 0;
    struct us_key_says says;
    us_key_note_says(k->tables, follows_two ? k->run.pitch_before : 0, follows ? k->run.last_pitch : 0, pitch,
                     &says);
    for (int key = 0; key < US_KEY_COUNT; key++) {
        double sum = PROFILE_COUNTS * (says.profile[key] / 1000.0);
        sum += interval_counts * (says.interval[key] / 1000.0);
        sum += after_two_counts * (says.after_two[key] / 1000.0);
        k->run.log_weight[key] += faded * sum;
    }
}

static void weigh(const struct us_keyfinder *k, double *weight)
{
    for (int key = 0; key < US_KEY_COUNT; key++)
        weight[key] = k->run.log_weight[key] + k->run.stands_out[key];
}

/* What stands out in the first eight notes says this of the keys. */
static void look_at_opening(struct us_keyfinder *k)
{
    const struct us_key_tables *t = k->tables;
    memset(k->run.stands_out, 0, sizeof k->run.stands_out);
    us_key_all_say(t->low, k->run.low, LOW_COUNTS, k->run.stands_out);
    us_key_all_say(t->high, k->run.high, HIGH_COUNTS, k->run.stands_out);
    if (k->run.bar_pitch != NO_PITCH)
        us_key_all_say(t->bar, k->run.bar_pitch, k->run.bar_sure * BAR_COUNTS, k->run.stands_out);
    if (k->run.longest != NO_PITCH)
        us_key_all_say(t->longest, k->run.longest, LONGEST_COUNTS, k->run.stands_out);
}

/* The key in which the remembered opening has been started again, or -1.  Three notes with the same two
   intervals are enough. */
static int known_again(const struct us_keyfinder *k)
{
    if (k->run.held_before < 0 || k->run.notes != 3 || k->run.opening_before_count < 3) return -1;
    int shift = k->run.opening[0] - k->run.opening_before[0];
    for (uint32_t i = 1; i < k->run.notes; i++)
        if (k->run.opening[i] - k->run.opening_before[i] != shift) return -1;
    return us_key_moved(k->run.held_before, shift);
}

static void settle(struct us_keyfinder *k)
{
    double weight[US_KEY_COUNT], hold = 0;
    weigh(k, weight);
    int best = us_key_best(weight);
    for (int key = 0; key < US_KEY_COUNT; key++)
        if (weight[key] < weight[best] - MEMORY)
            k->run.log_weight[key] += weight[best] - MEMORY - weight[key];
    if (k->run.notes > KEY_OPENING_NOTES) hold = HOLD_FIRST + HOLD_GROWS * (k->run.notes - KEY_OPENING_NOTES);
    if (hold > HOLD_MOST) hold = HOLD_MOST;
    if (k->run.held < 0 || weight[best] - weight[k->run.held] > hold) k->run.held = (int8_t)best;
    if (k->run.notes <= OPENING_KEY_NOTES) k->run.opening_key = k->run.held;
}

static void note_opening(struct us_keyfinder *k, int pitch, double weight)
{
    if (k->run.notes < US_KEY_OPENING) k->run.opening[k->run.notes] = (int16_t)pitch;
    if (k->run.notes >= KEY_OPENING_NOTES) return;
    bool stands_out = k->run.notes == 0 || pitch < k->run.low || pitch > k->run.high;
    if (pitch < k->run.low) k->run.low = (int16_t)pitch;
    if (pitch > k->run.high) k->run.high = (int16_t)pitch;
    if (k->run.bar_pitch == NO_PITCH && weight >= ON_A_BAR_LINE) {
        k->run.bar_pitch = (int16_t)pitch;
        k->run.bar_sure = 1;
        stands_out = true;
    }
    if (stands_out) look_at_opening(k);
}

void us_keyfinder_bar(struct us_keyfinder *k, int pitch, double sure)
{
    if (!k->run.notes || k->run.notes > KEY_OPENING_NOTES ||
        (k->run.bar_pitch == pitch && !(fabs(k->run.bar_sure - sure) > 0)))
        return;
    k->run.bar_pitch = pitch < 0 ? NO_PITCH : (int16_t)pitch;
    k->run.bar_sure = sure;
    look_at_opening(k);
    settle(k);
}

static void take_note(struct us_keyfinder *k, int pitch, double weight)
{
    double faded = 1.0 / sqrt(1.0 + k->run.notes / NOTES_TO_FADE);
    if (faded < FADED_MOST) faded = FADED_MOST;
    hear(k, pitch, faded);
    note_opening(k, pitch, weight);
    k->run.notes++;
    int again = known_again(k);
    if (again >= 0) k->run.log_weight[again] += KNOWN_AGAIN;
    for (int c = 0; c < US_PITCH_CLASSES; c++)
        k->run.heard[c] *= HEARD_FADES;
    k->run.heard[us_pitch_class(pitch)] += 1;
    k->run.pitch_before = k->run.last_pitch;
    k->run.last_pitch = (int16_t)pitch;
}

/* The run began with the first of the last `count` notes; the newest one is still to be taken. */
static void begin_with(struct us_keyfinder *k, int count)
{
    const int16_t *recent = k->recent + US_KEY_RECENT - count;
    const double *length = k->recent_length + US_KEY_RECENT - count;
    k->before = k->run;
    k->proving = (uint8_t)(count - 1);
    start_run(k, recent[0]);
    for (int i = 0; i + 1 < count; i++) {
        take_note(k, recent[i], 1);
        k->run.opening_length[i] = length[i];
    }
}

/* It was a turn of the tune: the run goes on as if nothing had been thought; the newest note is still to be
   taken. */
static void take_back(struct us_keyfinder *k)
{
    int since = (int)k->run.notes - k->proving;
    k->run = k->before;
    k->proving = 0;
    for (int i = US_KEY_RECENT - 1 - since; i < US_KEY_RECENT - 1; i++)
        take_note(k, k->recent[i], 1);
}

static void look_for_another_key(struct us_keyfinder *k)
{
    if (k->proving && k->run.notes >= US_KEY_OPENING) k->proving = 0;
    if (k->proving) {
        if (!keyfinder_still_elsewhere(k)) take_back(k);
        return;
    }
    int count = keyfinder_begun_elsewhere(k);
    if (count) begin_with(k, count);
}

static void remember_note(struct us_keyfinder *k, int pitch)
{
    memmove(k->recent, k->recent + 1, sizeof k->recent - sizeof k->recent[0]);
    memmove(k->recent_length, k->recent_length + 1, sizeof k->recent_length - sizeof k->recent_length[0]);
    k->recent[US_KEY_RECENT - 1] = (int16_t)pitch;
}

void us_keyfinder_note(struct us_keyfinder *k, int pitch, double weight, bool fresh)
{
    remember_note(k, pitch);
    if (k->run.notes == 0 || fresh) {
        k->proving = 0;
        start_run(k, pitch);
    } else {
        look_for_another_key(k);
    }
    take_note(k, pitch, weight);
    if (k->since_stop < UINT8_MAX) k->since_stop++;
    settle(k);
}

void us_keyfinder_stopped(struct us_keyfinder *k)
{
    k->since_stop = 0;
}

void us_keyfinder_lasted(struct us_keyfinder *k, double length)
{
    if (k->run.notes == 0) return;
    k->recent_length[US_KEY_RECENT - 1] = length;
    if (k->run.notes <= US_KEY_OPENING) k->run.opening_length[k->run.notes - 1] = length;
    if (k->run.notes >= KEY_OPENING_NOTES || length <= k->run.longest_length) return;
    k->run.longest_length = length;
    k->run.longest = k->run.last_pitch;
    look_at_opening(k);
}

struct us_key us_keyfinder_best(const struct us_keyfinder *k, double *probability)
{
    if (k->locked || k->run.held < 0) {
        if (probability) *probability = k->locked ? 1.0 : 0.0;
        return k->locked ? k->lock : (struct us_key){US_NO_KEY, US_MODE_MAJOR};
    }
    if (probability) {
        double weight[US_KEY_COUNT];
        weigh(k, weight);
        *probability = us_key_share(weight, k->run.held);
    }
    return us_key_with_mode(k->run.held, k->run.heard);
}
