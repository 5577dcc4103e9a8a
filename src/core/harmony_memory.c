#include "harmony_memory.h"

#include <string.h>

/* The score of a strain that has matched for ever is 1 / (1 - KEEP); a beat that begins otherwise leaves
   OTHER of it; a strain is believed from BELIEVE on. */
static const float KEEP = 0.9f, OTHER = 0.5f, BELIEVE = 5.0f, CERTAIN = 7.0f;
/* How much a recalled role counts beside what is heard now, and that much more where it was judged in
 * hindsight. */
static const float RECALL_SHARE = 0.2f, SETTLED_SHARE = 3.0f, PREFER = 0.5f;
enum { SIZE = US_MEMORY_BEATS, NEAREST = 6 };
static const uint32_t UNKNOWN = UINT32_MAX; /* how the last beat of a run went on */

/* Where the newest beat stands in the arrays that are kept twice over; older beats follow it. */
static uint32_t newest(const struct us_strain_memory *m)
{
    return SIZE - 1 - (m->count - 1) % SIZE;
}

static uint32_t kept(const struct us_strain_memory *m)
{
    return m->count < SIZE ? m->count : SIZE;
}

static void write_twice(uint32_t *twice, uint32_t place, uint32_t value)
{
    twice[place % SIZE] = twice[place % SIZE + SIZE] = value;
}

void us_memory_fresh(struct us_strain_memory *m)
{
    m->run = m->count;
    memset(m->score, 0, sizeof m->score);
}

/* The scores of the beats from one beat ago on: each carries on that of the beat before it, so that it
   recovers from one wrong note.  By beats ago, both stand at the same place. */
static void carry_on(float *restrict score, uint32_t count, const uint32_t *restrict leads,
                     const uint32_t *restrict tails_before, uint32_t lead, uint32_t tail, float going_on)
{
    for (uint32_t i = 1; i < count; i++) {
        float carried = KEEP * score[i] + (tails_before[i] == tail ? going_on : 0);
        score[i] = leads[i] == lead ? carried + 0.6f : OTHER * carried;
    }
}

/* The oldest beat has none before it and keeps its own score. */
void us_memory_beat(struct us_strain_memory *m, uint32_t lead, uint32_t tail_before)
{
    bool goes_on = m->count > m->run;
    m->count++;
    uint32_t here = newest(m), oldest = kept(m) - 1;
    write_twice(m->tail, here + 1, goes_on ? tail_before : UNKNOWN);
    write_twice(m->lead, here, lead);
    m->liking[here] = m->liking[here + SIZE] = 0;
    float *role = m->role[(m->count - 1) % SIZE];
    role[0] = role[1] = role[2] = 1.0f / 3;
    float last = oldest ? m->score[oldest - 1] : 0;
    carry_on(m->score, oldest, m->lead + here, m->tail + here + 1, lead, tail_before, goes_on ? 0.4f : 0);
    m->score[oldest] = last;
    m->score[0] = 0;
}

/* The best of the scores.  None is negative, so that their bits are ordered as they are: a loop without a
 * branch. */
static float best_score(const float *restrict score, const float *restrict liking, uint32_t count)
{
    int32_t most = 0;
    for (uint32_t i = NEAREST; i < count; i++) {
        float here = score[i] + liking[i];
        int32_t bits;
        memcpy(&bits, &here, sizeof bits);
        most = bits > most ? bits : most;
    }
    float best;
    memcpy(&best, &most, sizeof best);
    return best;
}

float us_memory_recall(const struct us_strain_memory *m, float role[3])
{
    const float *liking = m->liking + newest(m);
    float most = best_score(m->score, liking, kept(m));
    if (most < BELIEVE) return 0;
    uint32_t back = NEAREST;
    while (m->score[back] + liking[back] < most)
        back++;
    float weight = liking[back] > 0 ? SETTLED_SHARE : RECALL_SHARE;
    memcpy(role, m->role[(m->count - 1 - back) % SIZE], sizeof *m->role);
    return weight * (most >= CERTAIN ? 1 : (most - BELIEVE) / (CERTAIN - BELIEVE) * 0.6f + 0.4f);
}

void us_memory_judge(struct us_strain_memory *m, uint32_t back, const float role[3], bool settled)
{
    if (back >= m->count || back >= SIZE) return;
    uint32_t place = (newest(m) + back) % SIZE;
    if (!settled && m->liking[place] > 0) return;
    m->liking[place] = m->liking[place + SIZE] = settled ? PREFER : 0;
    memcpy(m->role[(m->count - 1 - back) % SIZE], role, 3 * sizeof *role);
}
