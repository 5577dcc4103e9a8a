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

/* Each place carries on the score of the place before it, so that it recovers from one wrong note. */
void us_memory_beat(struct us_strain_memory *m, uint32_t lead, uint32_t tail_before)
{
    uint32_t now = m->count++;
    if (now > m->run) m->tail[(now - 1) % SIZE] = tail_before;
    m->lead[now % SIZE] = lead;
    m->score[now % SIZE] = 0;
    m->role[now % SIZE][0] = m->role[now % SIZE][1] = m->role[now % SIZE][2] = 1.0f / 3;
    uint32_t kept = m->count < SIZE ? m->count : SIZE;
    for (uint32_t back = 1; back + 1 < kept; back++) {
        uint32_t here = (now - back) % SIZE, before = (now - back - 1) % SIZE;
        bool goes_on = now > m->run && m->tail[before] == tail_before;
        float score = KEEP * m->score[before] + (goes_on ? 0.4f : 0);
        m->score[here] = m->lead[here] == lead ? score + 0.6f : OTHER * score;
    }
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
