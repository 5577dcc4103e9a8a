#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "review_parts.h"
#include "undersong/keyfinder.h"

static void sum_bars(struct us_review *review)
{
    for (size_t b = 0; b < review->bar_count; b++) {
        struct us_review_bar *bar = &review->bars[b];
        double tempo = 0, square = 0;
        uint32_t measured = 0;
        for (size_t t = 0; t < review->take_count; t++) {
            const struct us_review_cell *cell = &review->cells[t * review->bar_count + b];
            bar->times += cell->notes > 0;
            bar->notes += cell->notes;
            bar->wrong += cell->wrong;
            bar->added += cell->added;
            bar->missed += cell->missed;
            bar->waits += cell->waits;
            bar->waited_s += (double)cell->waited_s;
            if (cell->tempo <= 0) continue;
            measured++;
            tempo += (double)cell->tempo;
            square += (double)cell->uneven * (double)cell->uneven;
        }
        bar->tempo = measured ? tempo / measured : 0;
        bar->uneven = measured ? sqrt(square / measured) : 0;
    }
}

static void sum_sessions(struct us_review *review)
{
    for (size_t t = 0; t < review->take_count; t++) {
        const struct us_take *take = &review->takes[t];
        struct us_review_session *session = &review->sessions[take->session];
        session->known = true;
        session->takes++;
        session->notes += take->notes;
        session->right += take->right;
        session->wrong += take->wrong;
        session->missed += take->missed;
        session->waits += take->waits;
        session->tempo += (take->tempo - session->tempo) / session->takes;
    }
}

static int more_notes_first(const void *a, const void *b)
{
    const struct us_key_record *one = a, *other = b;
    return one->notes < other->notes ? 1 : one->notes > other->notes ? -1 : one->key.tonic - other->key.tonic;
}

static bool sum_keys(struct us_review *review)
{
    review->keys = calloc(US_PITCH_CLASSES, sizeof *review->keys);
    if (!review->keys) return false;
    for (size_t t = 0; t < review->take_count; t++) {
        const struct us_take *take = &review->takes[t];
        size_t k = 0;
        while (k < review->key_count && !us_key_equal(review->keys[k].key, take->key))
            k++;
        if (k == review->key_count) review->keys[review->key_count++].key = take->key;
        review->keys[k].times++;
        review->keys[k].notes += take->notes;
        review->keys[k].right += take->right;
        review->keys[k].waits += take->waits;
    }
    qsort(review->keys, review->key_count, sizeof *review->keys, more_notes_first);
    return true;
}

/* The key of a session is the one that most of its notes were played in. */
static void name_session_keys(struct us_review *review)
{
    for (size_t s = 0; s < review->session_count; s++) {
        uint32_t notes[US_PITCH_CLASSES] = {0}, most = 0;
        for (size_t t = 0; t < review->take_count; t++) {
            const struct us_take *take = &review->takes[t];
            if (take->session != s || take->key.tonic == US_NO_KEY) continue;
            notes[take->key.tonic] += take->notes;
            if (notes[take->key.tonic] > most)
                most = notes[take->key.tonic], review->sessions[s].key = take->key;
        }
    }
}

bool review_sum_up(struct us_review *review)
{
    sum_bars(review);
    sum_sessions(review);
    name_session_keys(review);
    return sum_keys(review);
}

static int by_length(const void *a, const void *b)
{
    double one = *(const double *)a, other = *(const double *)b;
    return (one > other) - (one < other);
}

/* Silences of more than four usual notes, and more than a second and a half. */
static uint32_t count_pauses(const struct us_session *session, double *gaps)
{
    size_t count = session->count - 1;
    uint32_t pauses = 0;
    for (size_t i = 0; i < count; i++)
        gaps[i] = (double)(session->played[i + 1].at_ns - session->played[i].at_ns) / 1e9;
    qsort(gaps, count, sizeof *gaps, by_length);
    double usual = gaps[count / 2];
    for (size_t i = 0; i < count; i++)
        pauses += gaps[i] > 4 * usual && gaps[i] > 1.5;
    return pauses;
}

bool review_plain_session(struct us_review *review, const struct us_session *session)
{
    struct us_review_session *plain = &review->sessions[review->session_count++];
    memcpy(plain->name, session->name, sizeof plain->name);
    plain->played = (uint32_t)session->count;
    plain->key.tonic = US_NO_KEY;
    if (session->count < 2) return true;
    plain->minutes = (double)(session->played[session->count - 1].until_ns - session->played[0].at_ns) / 60e9;
    int *pitches = calloc(session->count, sizeof *pitches);
    double *gaps = calloc(session->count, sizeof *gaps);
    bool good = pitches && gaps;
    if (good) {
        for (size_t i = 0; i < session->count; i++)
            pitches[i] = session->played[i].pitch;
        plain->key = us_key_of_tune(pitches, session->count, NULL);
        plain->pauses = count_pauses(session, gaps);
    }
    free(pitches);
    free(gaps);
    return good;
}
