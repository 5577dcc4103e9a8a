#include "harmony_memory.h"

#include <string.h>

/* The score of a strain that has matched for ever is 1 / (1 - KEEP); a beat that begins otherwise leaves
   OTHER of it; a strain is believed from BELIEVE on. */
static const float KEEP = 0.9f, OTHER = 0.5f, BELIEVE = 5.0f, CERTAIN = 7.0f;
/* How much a recalled role counts beside what is heard now, and that much more where it was judged in
 * hindsight. */
static const float RECALL_SHARE = 0.2f, SETTLED_SHARE = 3.0f, PREFER = 0.5f;
enum { SIZE = US_MEMORY_BEATS, NEAREST = 6 };

void us_memory_fresh(struct us_strain_memory *m)
{
    m->run = m->count;
    memset(m->score, 0, sizeof m->score);
}

/* The score of the places from `from` to `until` once this beat was heard, each from the place before it. */
static void carry_on(const struct us_strain_memory *m, uint32_t from, uint32_t until, uint32_t lead,
                     uint32_t tail, float going_on, float *restrict next)
{
    for (uint32_t i = from; i < until; i++) {
        float score = KEEP * m->score[i - 1] + (m->tail[i - 1] == tail ? going_on : 0);
        next[i] = m->lead[i] == lead ? score + 0.6f : OTHER * score;
    }
}

/* Each place carries on the score of the place before it, so that it recovers from one wrong note.  The
   oldest place has none before it and keeps its own. */
void us_memory_beat(struct us_strain_memory *m, uint32_t lead, uint32_t tail_before)
{
    uint32_t now = m->count++, here = now % SIZE, oldest = m->count > SIZE ? m->count % SIZE : 0;
    uint32_t kept = m->count < SIZE ? m->count : SIZE;
    float next[SIZE], going_on = now > m->run ? 0.4f : 0, first, last = m->score[oldest];
    if (now > m->run) m->tail[(now - 1) % SIZE] = tail_before;
    m->lead[here] = lead;
    m->role[here][0] = m->role[here][1] = m->role[here][2] = 1.0f / 3;
    first = KEEP * m->score[SIZE - 1] + (m->tail[SIZE - 1] == tail_before ? going_on : 0);
    first = m->lead[0] == lead ? first + 0.6f : OTHER * first;
    carry_on(m, 1, kept, lead, tail_before, going_on, next);
    memcpy(m->score + 1, next + 1, (kept - 1) * sizeof *next);
    m->score[0] = first;
    m->score[oldest] = last;
    m->score[here] = 0;
}

float us_memory_recall(const struct us_strain_memory *m, float role[3])
{
    uint32_t kept = m->count < SIZE ? m->count : SIZE, best = 0;
    float most = 0;
    for (uint32_t back = NEAREST; back < kept; back++) {
        uint32_t place = (m->count - 1 - back) % SIZE;
        float score = m->score[place] + (m->settled[place] ? PREFER : 0);
        if (score > most) {
            most = score;
            best = place;
        }
    }
    float weight = m->settled[best] ? SETTLED_SHARE : RECALL_SHARE;
    if (most < BELIEVE) return 0;
    memcpy(role, m->role[best], sizeof m->role[best]);
    return weight * (most >= CERTAIN ? 1 : (most - BELIEVE) / (CERTAIN - BELIEVE) * 0.6f + 0.4f);
}

void us_memory_judge(struct us_strain_memory *m, uint32_t back, const float role[3], bool settled)
{
    if (back >= m->count || back >= SIZE) return;
    m->settled[(m->count - 1 - back) % SIZE] = settled;
    memcpy(m->role[(m->count - 1 - back) % SIZE], role, 3 * sizeof *role);
}
