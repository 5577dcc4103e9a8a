#include "step_log.h"

#include "news.h"

static bool is_told(const struct us_action *a)
{
    return is_news(a) || (a->kind == US_ACTION_NOTE_ON && a->voice == US_VOICE_LEFT);
}

void step_log_put(struct step_log *log, const struct us_companion *companion, const struct us_event *event,
                  const struct us_actions *actions)
{
    unsigned head = atomic_load_explicit(&log->head, memory_order_relaxed);
    struct step_log_row *row = &log->rows[head % STEP_LOG_ROWS];
    bool room = head - atomic_load_explicit(&log->tail, memory_order_acquire) < STEP_LOG_ROWS;
    uint32_t count = 0;
    for (uint32_t i = 0; i < actions->count && count < STEP_LOG_TOLD; i++) {
        if (!is_told(&actions->list[i])) continue;
        if (room) row->told[count] = actions->list[i];
        count++;
    }
    if (!count && event->kind != US_EVENT_NOTE_ON) return;
    if (!room) return;
    row->event = *event;
    row->count = count;
    us_companion_snapshot(companion, &row->now);
    atomic_store_explicit(&log->head, head + 1, memory_order_release);
}

bool step_log_take(struct step_log *log, struct step_log_row *row)
{
    unsigned tail = atomic_load_explicit(&log->tail, memory_order_relaxed);
    if (tail == atomic_load_explicit(&log->head, memory_order_acquire)) return false;
    *row = log->rows[tail % STEP_LOG_ROWS];
    atomic_store_explicit(&log->tail, tail + 1, memory_order_release);
    return true;
}
