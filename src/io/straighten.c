/* The most likely note values of a performance: a path through tempo and place in the beat (Viterbi, 1967),
   of the kind that A. T. Cemgil and others used for rhythm quantization (Computer Music Journal 24(2), 2000).
   The costs are invented here and checked on the demo performances. */
#include "undersong/straighten.h"

#include <float.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { TWELFTHS = 12, TEMPOS = 76, PLACES = 6, STATES = TEMPOS * PLACES, REACH = 3 };

static const double SHORTEST_QUARTER_S = 0.25, TEMPO_STEP = 0.025;
static const double COMMON_QUARTER_S = 0.62, TEMPO_SPREAD = 0.35;
static const double ONSET_S = 0.025, RATE = 0.06; /* how far playing strays: at an onset, in proportion */
static const double TEMPO_WEIGHT = 0.25;          /* of an uncommon tempo, note by note */
static const double WAIT_COST = 5;                /* a note that was waited for */
static const double STEP_COST = 0.45;             /* of a tempo step, squared */

/* Places in a quarter, in twelfths, and what it costs to start a note there. */
static const int PLACE[PLACES] = {0, 3, 4, 6, 8, 9};
static const double PLACE_COST[PLACES] = {0, 1.3, 1.2, 0.35, 1.2, 1.0};

/* Note values in twelfths of a quarter, and what they cost. */
static const struct {
    int twelfths;
    double cost;
} VALUES[] = {{3, 1.9},  {4, 2.6},  {6, 1.0},  {8, 3.2},  {9, 2.4},  {12, 0.9}, {18, 1.7},
              {24, 1.5}, {30, 3.4}, {36, 2.0}, {48, 2.6}, {60, 4.2}, {72, 3.6}};
enum { VALUE_COUNT = sizeof VALUES / sizeof *VALUES };

/* How one onset was reached. */
struct step {
    uint16_t from; /* state before */
    uint8_t value; /* index into VALUES */
};

struct search {
    double cost[2][STATES]; /* of the best path to each state; two onsets in turn */
    struct step *steps;     /* [onset][state] */
};

static double quarter_s(int tempo)
{
    return SHORTEST_QUARTER_S * exp(TEMPO_STEP * tempo);
}

static int place_index(int twelfths)
{
    for (int i = 0; i < PLACES; i++)
        if (PLACE[i] == twelfths % TWELFTHS) return i;
    return -1;
}

static double tempo_cost(int tempo)
{
    double off = log(quarter_s(tempo) / COMMON_QUARTER_S) / TEMPO_SPREAD;
    return TEMPO_WEIGHT * off * off;
}

static void start(struct search *search)
{
    for (int tempo = 0; tempo < TEMPOS; tempo++)
        for (int place = 0; place < PLACES; place++)
            search->cost[0][tempo * PLACES + place] = 2 * PLACE_COST[place];
}

/* How badly `ioi_s` seconds go with a value at a tempo. */
static double timing_cost(double ioi_s, int value, int tempo)
{
    double wanted = VALUES[value].twelfths / (double)TWELFTHS * quarter_s(tempo);
    double off = log(ioi_s / wanted), spread = RATE * RATE + ONSET_S * ONSET_S / (ioi_s * ioi_s);
    double cost = off * off / (2 * spread);
    return ioi_s > wanted && cost > WAIT_COST ? WAIT_COST : cost;
}

/* All ways on from one state over one interval. */
static void extend(struct search *search, size_t onset, int state, double ioi_s, int now)
{
    int tempo = state / PLACES, place = state % PLACES;
    double slow_or_fast = search->cost[now][state] + tempo_cost(tempo);
    for (int v = 0; v < VALUE_COUNT; v++) {
        int next_place = place_index(PLACE[place] + VALUES[v].twelfths);
        if (next_place < 0) continue;
        double base = slow_or_fast + VALUES[v].cost + PLACE_COST[next_place] + timing_cost(ioi_s, v, tempo);
        for (int d = -REACH; d <= REACH; d++) {
            if (tempo + d < 0 || tempo + d >= TEMPOS) continue;
            int next = (tempo + d) * PLACES + next_place;
            double cost = base + STEP_COST * d * d;
            if (cost >= search->cost[!now][next]) continue;
            search->cost[!now][next] = cost;
            search->steps[onset * STATES + (size_t)next] = (struct step){(uint16_t)state, (uint8_t)v};
        }
    }
}

/* Fills `values` (count - 1 of them) and `tempos` (count) with the best path. */
static void find_path(struct search *search, const struct us_note *notes, size_t count, double second,
                      uint8_t *values, uint8_t *tempos)
{
    int now = 0;
    start(search);
    for (size_t i = 1; i < count; i++) {
        double ioi_s = fmax((notes[i].at - notes[i - 1].at) * second, 0.02);
        for (int s = 0; s < STATES; s++)
            search->cost[!now][s] = DBL_MAX;
        for (int s = 0; s < STATES; s++)
            if (search->cost[now][s] < DBL_MAX) extend(search, i, s, ioi_s, now);
        now = !now;
    }
    int best = 0;
    for (int s = 1; s < STATES; s++)
        if (search->cost[now][s] < search->cost[now][best]) best = s;
    for (size_t i = count - 1; i > 0; i--) {
        struct step step = search->steps[i * STATES + (size_t)best];
        tempos[i] = (uint8_t)(best / PLACES);
        values[i - 1] = step.value;
        best = step.from;
    }
    tempos[0] = (uint8_t)(best / PLACES);
}

static int compare_tempos(const void *a, const void *b)
{
    return *(const uint8_t *)a - *(const uint8_t *)b;
}

/* How long a note stands: until the next one, unless it was let go well before. */
static double written_length(double played_quarters, double until_next)
{
    if (played_quarters >= 0.55 * until_next) return until_next;
    double length = fmax(round(played_quarters * 2) / 2, 0.25);
    return length < until_next ? length : until_next;
}

/* Puts the notes where their values lead, the first one at the start: what comes before the first bar line is
   for the metre to say. */
static void place_notes(struct us_note *notes, size_t count, double second, const uint8_t *values,
                        const uint8_t *tempos)
{
    int at = 0;
    for (size_t i = 0; i < count; i++) {
        double played = notes[i].len * second / quarter_s(tempos[i]);
        int value = i + 1 < count ? VALUES[values[i]].twelfths : 0;
        notes[i].at = at / (double)TWELFTHS;
        notes[i].len = value ? written_length(played, value / (double)TWELFTHS) : fmax(round(played), 0.5);
        at += value;
    }
}

static double median_tempo(uint8_t *tempos, size_t count)
{
    qsort(tempos, count, 1, compare_tempos);
    return 60 / quarter_s(tempos[count / 2]);
}

bool us_tune_is_free(const struct us_tune *tune)
{
    size_t off = 0;
    for (size_t i = 0; i < tune->note_count; i++) {
        double twelfths = tune->notes[i].at * TWELFTHS;
        double fine = tune->notes[i].at * 48;
        off += fabs(twelfths - round(twelfths)) > 0.05 && fabs(fine - round(fine)) > 0.05;
    }
    return !tune->bar_count && tune->note_count > 3 && off * 2 > tune->note_count;
}

enum us_status us_tune_straighten(struct us_tune_file *file, struct us_error *error)
{
    struct us_tune *tune = &file->tune;
    size_t count = tune->note_count;
    if (!us_tune_is_free(tune) || count > US_STRAIGHTEN_NOTES_MAX || !file->notes) return US_STATUS_OK;
    double second = 60 / (tune->quarters_a_minute > 0 ? tune->quarters_a_minute : 120);
    struct search *search = malloc(sizeof *search);
    struct step *steps = malloc(count * STATES * sizeof *steps);
    uint8_t *values = malloc(count), *tempos = malloc(count);
    bool done = search && steps && values && tempos;
    if (done) {
        search->steps = steps;
        find_path(search, file->notes, count, second, values, tempos);
        place_notes(file->notes, count, second, values, tempos);
        tune->quarters_a_minute = round(median_tempo(tempos, count));
        tune->pickup = -1;
        tune->chord_count = 0;
        tune->second_count = 0;
    }
    free(search);
    free(steps);
    free(values);
    free(tempos);
    return done ? US_STATUS_OK : us_error_set(error, US_STATUS_NO_MEMORY, "not enough memory for the tune");
}
