#include "rehearse.h"

#include <stdlib.h>

enum { NOTES = 24 };
#define NOTE_NS INT64_C(400000000)

static void step(struct us_companion *c, enum us_event_kind kind, int64_t at_ns, int pitch)
{
    struct us_actions unheard;
    struct us_event event = {.at_ns = at_ns, .kind = (uint8_t)kind, .pitch = (uint8_t)pitch, .velocity = 80};
    us_companion_step(c, &event, &unheard);
}

static void ticks_before(struct us_companion *c, int64_t at_ns)
{
    for (int64_t due, last = -1; (due = us_companion_due(c)) < at_ns && due > last; last = due)
        step(c, US_EVENT_TICK, due, 0);
}

void rehearse(const struct us_companion_settings *settings)
{
    static const uint8_t WALK[] = {60, 64, 67, 65, 62, 67, 64, 60};
    struct us_companion *c = malloc(us_companion_size());
    if (!c) return;
    us_companion_init(c, settings);
    for (int i = 0; i < NOTES; i++) {
        int pitch = WALK[i % (int)sizeof WALK];
        ticks_before(c, i * NOTE_NS);
        step(c, US_EVENT_NOTE_ON, i * NOTE_NS, pitch);
        step(c, US_EVENT_NOTE_OFF, i * NOTE_NS + NOTE_NS / 2, pitch);
    }
    free(c);
}
