#include "undersong/align.h"

#include <math.h>
#include <string.h>

#include "align_tempo.h"

/* The price of each way to explain a played note, in arbitrary units.  Chosen so that one wrong note is
   cheaper than one added and one missing, and going back to a bar line cheaper than three wrong notes. */
static const float WRONG_NEAR = 1.6f, WRONG_FAR = 1.8f, EXTRA = 1.9f, STRUCK_AGAIN = 1.0f, MISSED = 1.5f;
static const float LEAVE = 1.6f, ARRIVE_START = 0.8f, ARRIVE_BAR = 1.3f, ARRIVE_ANYWHERE = 2.8f;
static const float OTHER_KEY = 0.8f, AFTER_PAUSE = -0.4f;
static const float TIMING = 0.8f, TIMING_MOST = 1.2f;
static const double PAUSE_NS = 1.2e9;

/* Any tune can be pieced together from another one by jumping about. */
enum { JUMP_COST_IN_NOTES = 2 };
enum { SHIFTS = 8, SKIPS = 4, STEP_EXTRA = SKIPS, STEP_JUMP, STEP_JUMP_EXTRA };
enum { SHIFT_SPAN = 2 * US_PITCHES };

/* State s at a played note: s notes of the tune have been passed.  Costs are by transposition, then state. */
struct search {
    const struct us_played *played;
    size_t count;
    const struct us_tune *tune;
    size_t states;
    int shift[SHIFTS];
    int shifts;
    float *before, *now;
    float *arrive; /* of each note of the tune */
    float
        *lapse; /* log of the quarters from a note to each of the SKIPS after it; NAN where there are none */
    uint8_t *step;   /* how each state was reached, for each played note */
    uint32_t *left;  /* the state before a jump, for each played note */
    double *quarter; /* nanoseconds at each played note; NULL in the first pass */
};

size_t us_align_workspace(size_t played, size_t notes)
{
    size_t states = notes + 1;
    return played * (sizeof(double) + sizeof(uint32_t)) + states * (2 * SHIFTS + 1 + SKIPS) * sizeof(float) +
           played * SHIFTS * states;
}

static void lay_out(struct search *s, void *workspace)
{
    size_t cells = SHIFTS * s->states;
    s->quarter = workspace;
    s->left = (uint32_t *)(s->quarter + s->count);
    s->before = (float *)(s->left + s->count);
    s->now = s->before + cells;
    s->arrive = s->now + cells;
    s->lapse = s->arrive + s->states;
    s->step = (uint8_t *)(s->lapse + SKIPS * s->states);
}

/* By the state that is reached, then by how many notes were left out on the way. */
static void measure_lapses(struct search *s)
{
    for (size_t p = 0; p < s->states; p++)
        for (size_t skip = 0; skip < SKIPS; skip++) {
            double quarters = p >= skip + 2 ? s->tune->notes[p - 1].at - s->tune->notes[p - skip - 2].at : 0;
            s->lapse[p * SKIPS + skip] = quarters > 0 ? (float)log(quarters) : NAN;
        }
}

/* How often each transposition is heard in so many notes on end; returns how often any is. */
static int vote(const struct search *s, int notes, uint32_t votes[SHIFT_SPAN])
{
    int most = 0;
    memset(votes, 0, SHIFT_SPAN * sizeof *votes);
    for (size_t i = 0; i + (size_t)notes <= s->count; i++)
        for (size_t j = 0; j + (size_t)notes <= s->tune->note_count; j++) {
            int shift = s->played[i].pitch - s->tune->notes[j].pitch, same = 1;
            while (same < notes &&
                   s->played[i + (size_t)same].pitch - s->tune->notes[j + (size_t)same].pitch == shift)
                same++;
            if (same == notes) votes[shift + US_PITCHES]++, most++;
        }
    return most;
}

/* The transpositions worth trying, the most heard first: in four notes on end, or in fewer where that never
   happens. */
static void find_shifts(struct search *s)
{
    uint32_t votes[SHIFT_SPAN];
    for (int notes = 4; notes >= 1; notes--)
        if (vote(s, notes, votes)) break;
    while (s->shifts < SHIFTS) {
        int best = 0;
        for (int i = 1; i < SHIFT_SPAN; i++)
            if (votes[i] > votes[best]) best = i;
        if (!votes[best]) break;
        s->shift[s->shifts++] = best - US_PITCHES;
        votes[best] = 0;
    }
}

static bool on_bar_line(const struct us_tune *tune, double at)
{
    for (size_t i = 0; i < tune->line_count; i++)
        if (fabs(tune->lines[i] - at) < 1e-6) return true;
    double bar = us_metre_bar_quarters(tune->metre), from = at - fmax(tune->pickup, 0);
    return fabs(from - bar * round(from / bar)) < 1e-6;
}

static void price_arrivals(struct search *s)
{
    for (size_t j = 0; j < s->tune->note_count; j++)
        s->arrive[j] = j == 0                                       ? ARRIVE_START
                       : on_bar_line(s->tune, s->tune->notes[j].at) ? ARRIVE_BAR
                                                                    : ARRIVE_ANYWHERE;
}

static float pitch_price(int wanted, int played)
{
    int off = wanted > played ? wanted - played : played - wanted;
    return off == 0 ? 0 : off <= 2 ? WRONG_NEAR : WRONG_FAR;
}

/* The log of the quarters that have gone by since the note before, at the tempo around here; NAN where that
   is not known. */
static float log_quarters(const struct search *s, size_t i)
{
    if (!s->quarter || s->quarter[i] <= 0) return NAN;
    return (float)log(fmax((double)(s->played[i].at_ns - s->played[i - 1].at_ns), 1e6) / s->quarter[i]);
}

/* A wait costs, but no more than TIMING_MOST: learners wait. */
static float timing_price(float gone, float lapse)
{
    float off = fabsf(gone - lapse);
    return off < TIMING_MOST ? TIMING * off : off >= TIMING_MOST ? TIMING * TIMING_MOST : 0;
}

static void begin(struct search *s)
{
    for (int k = 0; k < s->shifts; k++) {
        float *now = s->before + (size_t)k * s->states;
        uint8_t *step = s->step + (size_t)k * s->states;
        for (size_t p = 0; p < s->states; p++) {
            float match = p ? s->arrive[p - 1] +
                                  pitch_price(s->tune->notes[p - 1].pitch + s->shift[k], s->played[0].pitch)
                            : INFINITY;
            float extra = p + 1 < s->states ? s->arrive[p] + EXTRA : INFINITY;
            now[p] = match <= extra ? match : extra;
            step[p] = match <= extra ? STEP_JUMP : STEP_JUMP_EXTRA;
        }
    }
}

/* The cheapest state to leave for another place; at the end of the tune leaving costs nothing. */
static uint32_t best_to_leave(const struct search *s, float *price)
{
    uint32_t best = 0;
    *price = INFINITY;
    for (size_t k = 0; k < (size_t)s->shifts; k++)
        for (size_t p = 0; p < s->states; p++) {
            float cost = s->before[k * s->states + p] + (p + 1 == s->states ? 0 : LEAVE);
            if (cost < *price) *price = cost, best = (uint32_t)(k * s->states + p);
        }
    return best;
}

static void try_step(float cost, uint8_t step, float *best, uint8_t *how)
{
    if (cost < *best) *best = cost, *how = step;
}

static void advance_shift(struct search *s, size_t i, int k, float leave, bool other_key)
{
    float gone = log_quarters(s, i);
    const struct us_note *notes = s->tune->notes;
    const float *before = s->before + (size_t)k * s->states;
    float *now = s->now + (size_t)k * s->states;
    uint8_t *step = s->step + (i * SHIFTS + (size_t)k) * s->states;
    bool pause = (double)(s->played[i].at_ns - s->played[i - 1].at_ns) > PAUSE_NS;
    float jump = leave + (other_key ? OTHER_KEY : 0) + (pause ? AFTER_PAUSE : 0);
    for (size_t p = 0; p < s->states; p++) {
        float best = INFINITY;
        uint8_t how = STEP_EXTRA;
        bool again = p && notes[p - 1].pitch + s->shift[k] == s->played[i].pitch;
        try_step(before[p] + (again ? STRUCK_AGAIN : EXTRA), STEP_EXTRA, &best, &how);
        if (p + 1 < s->states) try_step(jump + s->arrive[p] + EXTRA, STEP_JUMP_EXTRA, &best, &how);
        if (p) {
            float price = pitch_price(notes[p - 1].pitch + s->shift[k], s->played[i].pitch);
            try_step(jump + s->arrive[p - 1] + price, STEP_JUMP, &best, &how);
            for (size_t skip = 0; skip < SKIPS && skip < p; skip++) {
                float timing = timing_price(gone, s->lapse[p * SKIPS + skip]);
                try_step(before[p - 1 - skip] + price + MISSED * (float)skip + timing, (uint8_t)skip, &best,
                         &how);
            }
        }
        now[p] = best;
        step[p] = how;
    }
}

static void trace_back(const struct search *s, struct us_aligned *out)
{
    float least = INFINITY;
    size_t state = 0;
    for (size_t c = 0; c < (size_t)s->shifts * s->states; c++)
        if (s->before[c] < least) least = s->before[c], state = c;
    for (size_t i = s->count; i-- > 0;) {
        size_t k = state / s->states, p = state % s->states;
        uint8_t step = s->step[(i * SHIFTS + k) * s->states + p];
        struct us_aligned *a = &out[i];
        *a = (struct us_aligned){.note = (int32_t)p - 1, .shift = (int16_t)s->shift[k]};
        a->begins = step == STEP_JUMP || step == STEP_JUMP_EXTRA;
        bool extra = step == STEP_EXTRA || step == STEP_JUMP_EXTRA;
        bool right = p && s->tune->notes[p - 1].pitch + s->shift[k] == s->played[i].pitch;
        a->kind = extra ? US_ALIGN_EXTRA : right ? US_ALIGN_RIGHT : US_ALIGN_WRONG;
        if (step < SKIPS) a->missed = step;
        if (a->begins)
            state = s->left[i];
        else if (!extra)
            state -= 1 + (size_t)step;
    }
}

static void run(struct search *s, struct us_aligned *out)
{
    begin(s);
    for (size_t i = 1; i < s->count; i++) {
        float leave;
        s->left[i] = best_to_leave(s, &leave);
        for (int k = 0; k < s->shifts; k++)
            advance_shift(s, i, k, leave, s->left[i] / s->states != (size_t)k);
        float *swap = s->before;
        s->before = s->now;
        s->now = swap;
    }
    trace_back(s, out);
}

/* A jump a few notes ahead is notes left out, not a new beginning. */
static void settle_small_jumps(const struct search *s, struct us_aligned *out)
{
    for (size_t i = 1; i < s->count; i++) {
        const struct us_aligned *before = &out[i - 1];
        struct us_aligned *a = &out[i];
        int ahead = a->note - before->note - 1;
        if (!a->begins || a->kind == US_ALIGN_EXTRA || before->shift != a->shift) continue;
        if (ahead < 0 || ahead > SKIPS) continue;
        a->begins = false;
        a->missed = (uint8_t)ahead;
    }
}

double us_align(const struct us_played *played, size_t count, const struct us_tune *tune, void *workspace,
                struct us_aligned *out)
{
    if (!count || !tune->note_count) return 0;
    struct search s = {.played = played, .count = count, .tune = tune, .states = tune->note_count + 1};
    lay_out(&s, workspace);
    double *quarter = s.quarter;
    find_shifts(&s);
    price_arrivals(&s);
    measure_lapses(&s);
    s.quarter = NULL;
    run(&s, out);
    align_tempo(played, count, tune, out);
    for (size_t i = 0; i < count; i++)
        quarter[i] = out[i].quarter_ns;
    s.quarter = quarter;
    run(&s, out);
    settle_small_jumps(&s, out);
    align_tempo(played, count, tune, out);
    double fit = 0;
    for (size_t i = 0; i < count; i++) {
        fit += (out[i].kind == US_ALIGN_RIGHT) - out[i].missed;
        if (i > 0 && out[i].begins) fit -= JUMP_COST_IN_NOTES;
    }
    return fit > 0 ? fit / (double)count : 0;
}
