/* How a hand is spread over the bar. */
#include "undersong/texture.h"

#include "voicing.h"

/* Levels: the bar line, a beat, between beats. */
enum { LEVEL_BAR = 100, LEVEL_BEAT = 84, LEVEL_BETWEEN = 72 };
static const double NEAR_QUARTERS = 1e-6;

struct bar {
    struct us_strike *out;
    size_t count;
    struct us_metre metre;
    double from, until;
};

static uint8_t level_at(const struct bar *bar, double at)
{
    double beats = at / us_metre_beat_quarters(bar->metre);
    double off = beats - (double)(long)(beats + 0.5);
    if (at < NEAR_QUARTERS) return LEVEL_BAR;
    return off < NEAR_QUARTERS && off > -NEAR_QUARTERS ? LEVEL_BEAT : LEVEL_BETWEEN;
}

/* Adds a strike; the one before ends where this one begins. */
static void strike(struct bar *bar, double at, struct us_voicing notes)
{
    if (bar->count == US_STRIKES_MAX || !notes.count) return;
    if (bar->count) {
        struct us_strike *last = &bar->out[bar->count - 1];
        last->len = at - last->at;
    }
    bar->out[bar->count++] = (struct us_strike){at, bar->until - at, notes, level_at(bar, at)};
}

static struct us_voicing one(int pitch)
{
    return (struct us_voicing){1, {(uint8_t)pitch}};
}

static struct us_voicing upper(struct us_voicing hand)
{
    if (hand.count == 1) return hand;
    for (int i = 1; i < hand.count; i++)
        hand.pitch[i - 1] = hand.pitch[i];
    hand.count--;
    return hand;
}

/* Halves of the beat; thirds in compound metres; in 3/8 and its like the beat itself. */
static double division(struct us_metre metre)
{
    double beat = us_metre_beat_quarters(metre);
    return us_metre_is_compound(metre) ? beat / 3 : metre.bottom >= 8 ? beat : beat / 2;
}

/* The first place on the grid of `step` quarters that is clearly after `from`. */
static int first_after(double from, double step)
{
    return (int)(from / step + 0.25) + 1;
}

/* Chord tones upwards from the hand's root, no further than a tenth, all below the melody. */
static int rungs(struct us_chord chord, const struct us_voicing_context *context, int root, int out[8])
{
    int8_t tone[TONES];
    voicing_tones(chord, tone);
    voicing_forbid(chord, context, tone);
    int count = 0, ceiling = voicing_ceiling(context);
    for (int pitch = root; pitch <= root + US_LEFT_SPAN && pitch <= ceiling && count < 8; pitch++)
        for (int i = 0; i < TONES; i++)
            if (tone[i] == us_pitch_class(pitch)) out[count++] = pitch;
    return count;
}

/* Up the chord and down again, so that it comes round at the end of the bar where the rungs allow it. */
static void run(struct bar *bar, struct us_chord chord, const struct us_voicing_context *context, int root)
{
    int ladder[8], count = rungs(chord, context, root, ladder);
    double step = division(bar->metre);
    int first = first_after(bar->from, step);
    int steps = (int)((bar->until - bar->from) / step + 0.5);
    int turn = steps / 2 + 1 > 4 ? steps / 2 + 1 : 4;
    if (count > turn) count = turn;
    strike(bar, bar->from, one(root));
    if (count < 2) return;
    int period = 2 * (count - 1);
    for (int i = 0; (first + i) * step < bar->until - NEAR_QUARTERS; i++) {
        int place = (i + 1) % period;
        strike(bar, (first + i) * step, one(ladder[place < count ? place : period - place]));
    }
}

/* Halves of the beat: low high middle high; thirds: low middle high. */
static void broken(struct bar *bar, struct us_voicing hand)
{
    static const uint8_t HALVES[5][4] = {{0}, {0, 0, 0, 0}, {0, 1, 0, 1}, {0, 2, 1, 2}, {0, 2, 1, 3}};
    static const uint8_t THIRDS[5][3] = {{0}, {0, 0, 0}, {0, 1, 1}, {0, 1, 2}, {0, 1, 3}};
    double step = division(bar->metre);
    bool thirds = bar->metre.bottom >= 8 && bar->metre.top % 3 == 0;
    strike(bar, bar->from, one(hand.pitch[0]));
    int first = first_after(bar->from, step);
    for (int i = 1; (first + i - 1) * step < bar->until - NEAR_QUARTERS; i++) {
        int place = thirds ? THIRDS[hand.count][i % 3] : HALVES[hand.count][i % 4];
        strike(bar, (first + i - 1) * step, one(hand.pitch[place]));
    }
}

/* Which beats bear the bass: the bar line; every second beat where the bar halves in twos; the groups of
   threes and twos in five, six and seven. */
static bool is_bass(int beat, int beats)
{
    if (beats == 5 || beats == 6 || beats == 7) return beat == 0 || beat == 3 || (beats == 7 && beat == 5);
    return beats % 2 ? beat == 0 : beat % 2 == 0;
}

static void waltz(struct bar *bar, struct us_voicing hand)
{
    struct us_voicing bass = one(hand.pitch[0]), chord = upper(hand);
    double beat = us_metre_beat_quarters(bar->metre);
    int beats = us_metre_beats(bar->metre);
    strike(bar, bar->from, bass);
    if (beats == 2 && us_metre_is_compound(bar->metre)) {
        /* 6/8: bass, rest, chord in each of the two beats. */
        for (int third = first_after(bar->from, beat / 3); third * beat / 3 < bar->until - NEAR_QUARTERS;
             third++)
            if (third % 3 != 1) strike(bar, third * beat / 3, third % 3 ? chord : bass);
        return;
    }
    for (int i = first_after(bar->from, beat); i * beat < bar->until - NEAR_QUARTERS; i++)
        strike(bar, i * beat, is_bass(i % beats, beats) ? bass : chord);
}

size_t us_texture_bar_of(struct us_voicing hand, enum us_texture texture, struct us_chord chord,
                         enum us_role role, struct us_metre metre, double from, double until,
                         const struct us_voicing_context *context, struct us_strike out[US_STRIKES_MAX])
{
    struct bar bar = {out, 0, metre.top ? metre : (struct us_metre){4, 4}, from, until};
    if (!hand.count || until <= from) return 0;
    if (texture == US_TEXTURE_BROKEN)
        broken(&bar, hand);
    else if (texture == US_TEXTURE_WALTZ)
        waltz(&bar, hand);
    else if (texture == US_TEXTURE_ROOT_RUN && role == US_ROLE_V)
        run(&bar, chord, context, hand.pitch[0]);
    else
        strike(&bar, from, hand);
    return bar.count;
}

size_t us_texture_bar(enum us_texture texture, struct us_chord chord, enum us_role role,
                      struct us_metre metre, double from, double until,
                      const struct us_voicing_context *context, struct us_strike out[US_STRIKES_MAX])
{
    struct us_voicing hand = us_texture_hand(texture, chord, context);
    return us_texture_bar_of(hand, texture, chord, role, metre, from, until, context, out);
}
