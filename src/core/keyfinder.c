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
static const double OTHER_TEMPO =
    1.6; /* how much longer or shorter a note may be when the tune begins again */
static const double SAME_KEY_AGAIN = 1.0;
static const double HEARD_FADES = 0.99;
static const double ON_A_BAR_LINE = 1.5;
enum { NO_PITCH = -1 };

void us_keyfinder_init_with(struct us_keyfinder *k, const struct us_key_tables *tables)
{
    memset(k, 0, sizeof *k);
    k->tables = tables;
    k->last_pitch = k->pitch_before = NO_PITCH;
    k->since_stop = UINT8_MAX;
    k->held = k->held_before = -1;
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
    if (k->notes <= 2) return;
    k->opening_before_count = (uint8_t)(k->notes < US_KEY_OPENING ? k->notes : US_KEY_OPENING);
    memcpy(k->opening_before, k->opening, sizeof k->opening);
    k->held_before = k->held;
}

/* What the first note of a run says; where a key was known, it stays likely. */
static void start_run(struct us_keyfinder *k, int pitch)
{
    remember_opening(k);
    for (int key = 0; key < US_KEY_COUNT; key++) {
        int table = us_key_table_of[key % US_MODES];
        k->log_weight[key] = FAMILY_COUNTS * k->tables->family[table] / 1000.0 +
                             FIRST_COUNTS * us_key_says(k->tables->first, key, pitch) -
                             us_key_mode_costs[key % US_MODES];
    }
    if (k->held_before >= 0) k->log_weight[k->held_before] += SAME_KEY_AGAIN;
    k->notes = 0;
    k->held = -1;
    k->last_pitch = k->pitch_before = NO_PITCH;
    k->low = k->high = (int16_t)pitch;
    k->bar_pitch = k->longest = NO_PITCH;
    k->longest_length = 0;
    memset(k->heard, 0, sizeof k->heard);
}

/* Adds what this note says to the weights. */
static void hear(struct us_keyfinder *k, int pitch, double faded)
{
    bool follows = k->last_pitch != NO_PITCH, follows_two = k->pitch_before != NO_PITCH;
    double interval_counts = follows ? INTERVAL_COUNTS : 0,
           after_two_counts = follows_two ? AFTER_TWO_COUNTS : 0;
    struct us_key_says says;
    us_key_note_says(k->tables, follows_two ? k->pitch_before : 0, follows ? k->last_pitch : 0, pitch, &says);
    for (int key = 0; key < US_KEY_COUNT; key++) {
        double sum = PROFILE_COUNTS * (says.profile[key] / 1000.0);
        sum += interval_counts * (says.interval[key] / 1000.0);
        sum += after_two_counts * (says.after_two[key] / 1000.0);
        k->log_weight[key] += faded * sum;
    }
}

static void weigh(const struct us_keyfinder *k, double *weight)
{
    for (int key = 0; key < US_KEY_COUNT; key++)
        weight[key] = k->log_weight[key] + k->stands_out[key];
}

/* What stands out in the first eight notes says this of the keys. */
static void look_at_opening(struct us_keyfinder *k)
{
    const struct us_key_tables *t = k->tables;
    memset(k->stands_out, 0, sizeof k->stands_out);
    us_key_all_say(t->low, k->low, LOW_COUNTS, k->stands_out);
    us_key_all_say(t->high, k->high, HIGH_COUNTS, k->stands_out);
    if (k->bar_pitch != NO_PITCH)
        us_key_all_say(t->bar, k->bar_pitch, k->bar_sure * BAR_COUNTS, k->stands_out);
    if (k->longest != NO_PITCH) us_key_all_say(t->longest, k->longest, LONGEST_COUNTS, k->stands_out);
}

/* The key in which the remembered opening has been started again, or -1.  Three notes with the same two
   intervals are enough. */
static int known_again(const struct us_keyfinder *k)
{
    if (k->held_before < 0 || k->notes != 3 || k->opening_before_count < 3) return -1;
    int shift = k->opening[0] - k->opening_before[0];
    for (uint32_t i = 1; i < k->notes; i++)
        if (k->opening[i] - k->opening_before[i] != shift) return -1;
    return us_pitch_class(k->held_before / US_MODES + shift) * US_MODES + k->held_before % US_MODES;
}

static void settle(struct us_keyfinder *k)
{
    double weight[US_KEY_COUNT], hold = 0;
    weigh(k, weight);
    int best = us_key_best(weight);
    for (int key = 0; key < US_KEY_COUNT; key++)
        if (weight[key] < weight[best] - MEMORY) k->log_weight[key] += weight[best] - MEMORY - weight[key];
    if (k->notes > KEY_OPENING_NOTES) hold = HOLD_FIRST + HOLD_GROWS * (k->notes - KEY_OPENING_NOTES);
    if (hold > HOLD_MOST) hold = HOLD_MOST;
    if (k->held < 0 || weight[best] - weight[k->held] > hold) k->held = (int8_t)best;
}

static void note_opening(struct us_keyfinder *k, int pitch, double weight)
{
    if (k->notes < US_KEY_OPENING) k->opening[k->notes] = (int16_t)pitch;
    if (k->notes >= KEY_OPENING_NOTES) return;
    bool stands_out = k->notes == 0 || pitch < k->low || pitch > k->high;
    if (pitch < k->low) k->low = (int16_t)pitch;
    if (pitch > k->high) k->high = (int16_t)pitch;
    if (k->bar_pitch == NO_PITCH && weight >= ON_A_BAR_LINE) {
        k->bar_pitch = (int16_t)pitch;
        k->bar_sure = 1;
        stands_out = true;
    }
    if (stands_out) look_at_opening(k);
}

void us_keyfinder_bar(struct us_keyfinder *k, int pitch, double sure)
{
    if (!k->notes || k->notes > KEY_OPENING_NOTES ||
        (k->bar_pitch == pitch && !(fabs(k->bar_sure - sure) > 0)))
        return;
    k->bar_pitch = pitch < 0 ? NO_PITCH : (int16_t)pitch;
    k->bar_sure = sure;
    look_at_opening(k);
    settle(k);
}

static void take_note(struct us_keyfinder *k, int pitch, double weight)
{
    double faded = 1.0 / sqrt(1.0 + k->notes / NOTES_TO_FADE);
    if (faded < FADED_MOST) faded = FADED_MOST;
    hear(k, pitch, faded);
    note_opening(k, pitch, weight);
    k->notes++;
    int again = known_again(k);
    if (again >= 0) k->log_weight[again] += KNOWN_AGAIN;
    for (int c = 0; c < US_PITCH_CLASSES; c++)
        k->heard[c] *= HEARD_FADES;
    k->heard[us_pitch_class(pitch)] += 1;
    k->pitch_before = k->last_pitch;
    k->last_pitch = (int16_t)pitch;
}

static bool as_long(double length, double before)
{
    return length > before / OTHER_TEMPO && length < before * OTHER_TEMPO;
}

/* Whether the last `count` notes are the run's opening in another key, in its rhythm. */
static bool is_opening(const struct us_keyfinder *k, int count)
{
    const int16_t *recent = k->recent + US_KEY_OPENING - count;
    const double *length = k->recent_length + US_KEY_OPENING - count;
    int shift = recent[0] - k->opening[0];
    if (us_pitch_class(shift) == 0) return false;
    for (int i = 0; i < count; i++)
        if (recent[i] - k->opening[i] != shift ||
            (i + 1 < count && !as_long(length[i], k->opening_length[i])))
            return false;
    return true;
}

/* How many of the last notes begin the tune elsewhere; 0: none.  A turn of the tune may well come again a
   step or a fifth away: without a stop before it notes must be strange to the key so far.  One note three
   times over says too little. */
static int begun_elsewhere(const struct us_keyfinder *k)
{
    if (k->notes < US_KEY_OPENING) return 0;
    us_pcset scale = us_key_scale(us_keyfinder_best(k, NULL));
    for (int count = 3; count <= US_KEY_OPENING; count++) {
        const int16_t *recent = k->recent + US_KEY_OPENING - count;
        int strange = 0;
        bool moves = false;
        for (int i = 0; i < count; i++) {
            strange += !us_pcset_has(scale, recent[i]);
            moves = moves || recent[i] != recent[0];
        }
        bool enough =
            count == 3 && k->since_stop == 2 ? strange || moves : strange >= (count < 5 ? 2 : 1) && moves;
        if (enough && is_opening(k, count)) return count;
    }
    return 0;
}

/* The run began with the first of the last `count` notes; the newest one is still to be taken. */
static void begin_with(struct us_keyfinder *k, int count)
{
    const int16_t *recent = k->recent + US_KEY_OPENING - count;
    const double *length = k->recent_length + US_KEY_OPENING - count;
    start_run(k, recent[0]);
    for (int i = 0; i + 1 < count; i++) {
        take_note(k, recent[i], 1);
        k->opening_length[i] = length[i];
    }
}

static void remember_note(struct us_keyfinder *k, int pitch)
{
    memmove(k->recent, k->recent + 1, sizeof k->recent - sizeof k->recent[0]);
    memmove(k->recent_length, k->recent_length + 1, sizeof k->recent_length - sizeof k->recent_length[0]);
    k->recent[US_KEY_OPENING - 1] = (int16_t)pitch;
}

void us_keyfinder_note(struct us_keyfinder *k, int pitch, double weight, bool fresh)
{
    remember_note(k, pitch);
    if (k->notes == 0 || fresh) {
        start_run(k, pitch);
    } else {
        int elsewhere = begun_elsewhere(k);
        if (elsewhere) begin_with(k, elsewhere);
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
    if (k->notes == 0) return;
    k->recent_length[US_KEY_OPENING - 1] = length;
    if (k->notes <= US_KEY_OPENING) k->opening_length[k->notes - 1] = length;
    if (k->notes >= KEY_OPENING_NOTES || length <= k->longest_length) return;
    k->longest_length = length;
    k->longest = k->last_pitch;
    look_at_opening(k);
}

struct us_key us_keyfinder_best(const struct us_keyfinder *k, double *probability)
{
    if (k->locked || k->held < 0) {
        if (probability) *probability = k->locked ? 1.0 : 0.0;
        return k->locked ? k->lock : (struct us_key){US_NO_KEY, US_MODE_MAJOR};
    }
    if (probability) {
        double weight[US_KEY_COUNT];
        weigh(k, weight);
        *probability = us_key_share(weight, k->held);
    }
    return us_key_with_mode(k->held, k->heard);
}
