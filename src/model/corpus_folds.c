/* Tunes that are nearly the same, whatever their openings, are kept in the same fold. */
#include <stdlib.h>

#include "corpus.h"

/* Two tunes are near where they share this part of the shorter one's runs of so many intervals. */
enum { RUN = 8 };
static const double NEAR = 0.3;

struct runs {
    uint32_t *hash; /* in order, each once */
    size_t count;
};

static int hash_order(const void *a, const void *b)
{
    uint32_t x = *(const uint32_t *)a, y = *(const uint32_t *)b;
    return (x > y) - (x < y);
}

static bool find_runs(const struct us_tune *tune, struct runs *out)
{
    size_t n = tune->note_count, unique = 0;
    out->count = 0;
    out->hash = malloc((n + 1) * sizeof *out->hash);
    if (!out->hash) return false;
    for (size_t i = 0; i + RUN < n; i++)
        out->hash[out->count++] = corpus_hash(tune->notes + i, RUN + 1);
    if (!out->count) return true;
    qsort(out->hash, out->count, sizeof *out->hash, hash_order);
    for (size_t i = 0; i < out->count; i++)
        if (!i || out->hash[i] != out->hash[unique - 1]) out->hash[unique++] = out->hash[i];
    out->count = unique;
    return true;
}

static bool near(const struct runs *a, const struct runs *b)
{
    size_t i = 0, k = 0, shared = 0, least = a->count < b->count ? a->count : b->count;
    while (i < a->count && k < b->count) {
        if (a->hash[i] == b->hash[k])
            shared++, i++, k++;
        else if (a->hash[i] < b->hash[k])
            i++;
        else
            k++;
    }
    return least && (double)shared > NEAR * (double)least;
}

/* Until nothing moves: a tune near one of a higher fold joins it. */
static void join(struct corpus *corpus, const struct runs *runs)
{
    for (bool moved = true; moved;) {
        moved = false;
        for (size_t i = 0; i < corpus->count; i++)
            for (size_t k = 0; k < corpus->count; k++)
                if (corpus->tunes[k].fold > corpus->tunes[i].fold && near(&runs[i], &runs[k])) {
                    corpus->tunes[i].fold = corpus->tunes[k].fold;
                    moved = true;
                }
    }
}

bool corpus_join_folds(struct corpus *corpus)
{
    struct runs *runs = calloc(corpus->count + 1, sizeof *runs);
    bool fine = runs != NULL;
    for (size_t i = 0; fine && i < corpus->count; i++)
        fine = find_runs(&corpus->tunes[i].tune, &runs[i]);
    if (fine) join(corpus, runs);
    for (size_t i = 0; runs && i < corpus->count; i++)
        free(runs[i].hash);
    free(runs);
    return fine;
}
