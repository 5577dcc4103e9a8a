#include "undersong/queue.h"

#include <stdatomic.h>
#include <stdlib.h>
#include <string.h>

struct us_queue {
    struct us_action *slots;
    uint32_t mask;
    _Alignas(64) _Atomic uint32_t head; /* next to write; the producer's */
    _Alignas(64) _Atomic uint32_t tail; /* next to read; the consumer's */
    _Alignas(64) _Atomic uint32_t dropped;
    /* The producer's own: which notes the consumer will see begin and not yet end. */
    uint64_t sounding[US_VOICES][US_PITCHES / 64];
    uint32_t owed; /* releases that must still fit */
};

struct us_queue *us_queue_create(uint32_t capacity)
{
    if (capacity > 1u << 24) return NULL;
    uint32_t size = US_QUEUE_CAPACITY_MIN;
    while (size < capacity)
        size *= 2;
    struct us_queue *q = aligned_alloc(64, sizeof *q);
    if (!q) return NULL;
    memset(q, 0, sizeof *q);
    q->mask = size - 1;
    q->slots = calloc(size, sizeof *q->slots);
    if (q->slots) return q;
    free(q);
    return NULL;
}

void us_queue_destroy(struct us_queue *q)
{
    if (!q) return;
    free(q->slots);
    free(q);
}

static uint64_t bit_of(uint8_t pitch)
{
    return UINT64_C(1) << (pitch % 64);
}

static uint32_t count_voice(const uint64_t *bits)
{
    return (uint32_t)(__builtin_popcountll(bits[0]) + __builtin_popcountll(bits[1]));
}

/* How many places must be left after this action, so that every release still fits; and whether it is let in
 * at all. */
static bool admit(struct us_queue *q, const struct us_action *a, uint32_t room)
{
    uint64_t *bits = q->sounding[a->voice];
    uint64_t *word = &bits[a->pitch / 64];
    switch (a->kind) {
    case US_ACTION_NOTE_ON: {
        uint32_t more = *word & bit_of(a->pitch) ? 0 : 1;
        if (room < 1 + q->owed + more) return false;
        *word |= bit_of(a->pitch);
        q->owed += more;
        return true;
    }
    case US_ACTION_NOTE_OFF:
        if (!(*word & bit_of(a->pitch))) return false; /* its beginning was dropped */
        *word &= ~bit_of(a->pitch);
        q->owed--;
        return true;
    case US_ACTION_ALL_OFF: {
        uint32_t released = count_voice(bits);
        if (!released && room < 1 + q->owed) return false;
        memset(bits, 0, sizeof q->sounding[0]);
        q->owed -= released;
        return true;
    }
    default: return room >= 1 + q->owed;
    }
}

bool us_queue_push(struct us_queue *q, const struct us_action *action)
{
    uint32_t head = atomic_load_explicit(&q->head, memory_order_relaxed);
    uint32_t tail = atomic_load_explicit(&q->tail, memory_order_acquire);
    uint32_t room = q->mask + 1 - (head - tail);
    if (action->voice >= US_VOICES || action->pitch >= US_PITCHES || !admit(q, action, room)) {
        if (action->kind != US_ACTION_NOTE_OFF)
            atomic_fetch_add_explicit(&q->dropped, 1, memory_order_relaxed);
        return false;
    }
    q->slots[head & q->mask] = *action;
    atomic_store_explicit(&q->head, head + 1, memory_order_release);
    return true;
}

const struct us_action *us_queue_peek(struct us_queue *q)
{
    uint32_t tail = atomic_load_explicit(&q->tail, memory_order_relaxed);
    if (atomic_load_explicit(&q->head, memory_order_acquire) == tail) return NULL;
    return &q->slots[tail & q->mask];
}

bool us_queue_pop(struct us_queue *q, struct us_action *action)
{
    const struct us_action *next = us_queue_peek(q);
    if (!next) return false;
    *action = *next;
    uint32_t tail = atomic_load_explicit(&q->tail, memory_order_relaxed);
    atomic_store_explicit(&q->tail, tail + 1, memory_order_release);
    return true;
}

uint32_t us_queue_dropped(const struct us_queue *q)
{
    return atomic_load_explicit(&q->dropped, memory_order_relaxed);
}
