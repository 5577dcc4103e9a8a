/* Live: beats that are over go on to the hindsight, and what it tells goes to the memory of strains. */
#include <math.h>

#include "harmony_hindsight.h"
#include "harmony_live_parts.h"
#include "harmony_memory.h"

enum { ROLES = US_HARMONY_ROLES };

void us_harmony_live_begin_to_settle(struct us_harmony_live *h)
{
    if (h->settling || h->hindsight.frames + h->hindsight.waiting == 0) return;
    h->settling = true;
    h->settle_count = h->memory.count - (h->beats - h->heard);
}

/* The beat of a moment ago, now that its notes are known to their end, goes to the hindsight. */
static void hand_on(struct us_harmony_live *h)
{
    while (!us_harmony_live_settle(h))
        ;
    const struct us_live_beat *then = &h->waiting[h->heard++ % US_HINDSIGHT_KEPT];
    struct us_note notes[US_LIVE_NOTES];
    struct us_heard heard;
    struct us_ear ear = {h->late_running, h->late_before};
    double beat = us_metre_beat_quarters(then->position.metre);
    size_t count = us_harmony_live_notes_since(h, then->at, notes);
    us_ear_listen(&ear, notes, count, then->at, beat, fabs(beat - 1.5) < 1e-3, &heard);
    h->late_running = ear.running;
    h->late_before = ear.before;
    struct us_frame_context context = {-1, us_harmony_live_style(h, then->position.metre)};
    us_frame_fill(us_hindsight_frame(&h->hindsight), &heard, &heard, h->key, &then->position, &context);
}

void us_harmony_live_look_back(struct us_harmony_live *h, uint32_t left)
{
    while (h->hindsight.waiting > left) {
        float role[ROLES];
        uint32_t back;
        if (us_hindsight_step(&h->hindsight, &h->tables->whole[0], role, &back))
            us_memory_judge(&h->memory, back + h->beats - h->heard, role, true);
    }
}

void us_harmony_live_hand_on_until(struct us_harmony_live *h, uint32_t left)
{
    while (h->heard + left < h->beats)
        hand_on(h);
}

void us_harmony_live_again(struct us_harmony_live *h)
{
    us_harmony_live_begin_to_settle(h);
}

void us_harmony_live_over(struct us_harmony_live *h)
{
    us_harmony_live_hand_on_until(h, 0);
    us_harmony_live_begin_to_settle(h);
}

bool us_harmony_live_settle(struct us_harmony_live *h)
{
    float role[ROLES];
    uint32_t back;
    bool told;
    if (!h->settling) return true;
    if (us_hindsight_finish(&h->hindsight, &h->tables->whole[0], role, &back, &told)) {
        if (told) us_memory_judge(&h->memory, back + h->memory.count - h->settle_count, role, true);
        return false;
    }
    h->settling = false;
    us_hindsight_start(&h->hindsight);
    return true;
}
