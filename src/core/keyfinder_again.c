/* The tune begun again in another key without a word: known at its third note where the notes say so, and
   taken back where the next ones say that it was a turn of the tune. */
#include "keyfinder_parts.h"

/* How much longer or shorter a note may be when the tune begins again. */
static const double OTHER_TEMPO = 1.6;
/* Natural logs; found on three of five folds: how much the notes must be against the key so far, what a stop
   before them is worth, what it costs that none of them is strange to that key (tunes do repeat a turn a step
   or a fifth away), and that one is not the opening's. */
static const double ENOUGH = 7.0, AFTER_A_STOP = 8.0, NONE_STRANGE = 4.0, OTHER_NOTE = 3.0;

/* The last notes, and what was known before them. */
struct beginning {
    const struct us_keyfinder *k;
    const struct us_key_run *run;
    const int16_t *pitch;
    const double *length;
    int count, shift;
    int there; /* the key in which the opening would be again */
};

static struct beginning beginning_of(const struct us_keyfinder *k, const struct us_key_run *run, int count)
{
    int first = US_KEY_RECENT - count, key = run->opening_key, shift = k->recent[first] - run->opening[0];
    return (struct beginning){k,     run,   k->recent + first,       k->recent_length + first,
                              count, shift, us_key_moved(key, shift)};
}

static bool as_long(double length, double before)
{
    return length > before / OTHER_TEMPO && length < before * OTHER_TEMPO;
}

/* Whether the notes are the run's opening in another key, in its rhythm.  One note over and over says too
 * little. */
static bool is_opening(const struct beginning *b)
{
    bool moves = false;
    if (us_pitch_class(b->shift) == 0 || b->there / US_MODES == b->run->held / US_MODES) return false;
    for (int i = 0; i < b->count; i++) {
        if (b->pitch[i] - b->run->opening[i] != b->shift) return false;
        if (i + 1 < b->count && !as_long(b->length[i], b->run->opening_length[i])) return false;
        moves = moves || b->pitch[i] != b->pitch[0];
    }
    return moves;
}

/* How unlikely the note is in the key after the two before it. */
static double surprise(const struct us_key_tables *t, int key, const int16_t *pitch)
{
    struct us_key_says says;
    us_key_note_says(t, pitch[-2], pitch[-1], pitch[0], &says);
    return -(says.interval[key] + says.after_two[key]) / 2000.0;
}

/* How much better the notes are explained by the opening in another key than by the key so far. */
static bool is_enough(const struct beginning *b)
{
    int held = b->run->held, strange = 0;
    us_pcset scale = us_key_scale(us_key_with_mode(held, b->run->heard));
    double gain = 0;
    for (int i = 0; i < b->count; i++) {
        const int16_t *pitch = b->pitch + i;
        strange += !us_pcset_has(scale, *pitch);
        gain += surprise(b->k->tables, held, pitch);
        if (*pitch - b->run->opening[i] != b->shift)
            gain -= OTHER_NOTE + surprise(b->k->tables, b->there, pitch);
    }
    if (!strange) gain -= NONE_STRANGE;
    if (b->k->since_stop == b->count - 1) gain += AFTER_A_STOP;
    return gain > ENOUGH;
}

int keyfinder_begun_elsewhere(const struct us_keyfinder *k)
{
    if (k->run.notes < US_KEY_OPENING || k->run.opening_key < 0) return 0;
    for (int count = 3; count <= US_KEY_OPENING; count++) {
        struct beginning b = beginning_of(k, &k->run, count);
        if (is_opening(&b) && is_enough(&b)) return count;
    }
    return 0;
}

bool keyfinder_still_elsewhere(const struct us_keyfinder *k)
{
    struct beginning b = beginning_of(k, &k->before, (int)k->run.notes + 1);
    return is_enough(&b);
}
