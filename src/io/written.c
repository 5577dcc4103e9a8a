/* The page as a thing, and what all that read or write one need. */
#include "written.h"

#include <stdlib.h>
#include <string.h>

bool us_grow(void **array, size_t *room, size_t count, size_t item)
{
    if (count < *room) return true;
    size_t wanted = *room ? *room * 2 : 64;
    void *grown = realloc(*array, wanted * item);
    if (!grown) return false;
    *array = grown;
    *room = wanted;
    return true;
}

void us_written_init(struct us_written *written)
{
    memset(written, 0, sizeof *written);
    written->key.tonic = US_NO_KEY;
}

void us_written_finish(struct us_written *written)
{
    for (int v = 0; v < US_WRITTEN_VOICES; v++)
        free(written->notes[v]);
    free(written->chords);
    free(written->bars);
    us_written_init(written);
}

size_t us_first_not(size_t count, bool (*before)(const void *sought, size_t i), const void *sought)
{
    size_t low = 0, high = count;
    while (low < high) {
        size_t middle = low + (high - low) / 2;
        if (before(sought, middle))
            low = middle + 1;
        else
            high = middle;
    }
    return low;
}

struct place {
    const char *list;
    size_t item;
    int64_t at;
};

static bool item_before(const void *sought, size_t i)
{
    const struct place *p = sought;
    return *(const int64_t *)(const void *)(p->list + i * p->item) < p->at;
}

size_t us_first_from(const void *list, size_t count, size_t item, int64_t at)
{
    return us_first_not(count, item_before, &(struct place){list, item, at});
}

int64_t us_common_divisor(int64_t a, int64_t b)
{
    while (b) {
        int64_t rest = a % b;
        a = b, b = rest;
    }
    return a;
}

void us_write_times(uint16_t endings, FILE *to)
{
    const char *comma = "";
    for (int n = 1; n <= US_ENDING_MAX; n++)
        if (endings >> n & 1) fprintf(to, "%s%d", comma, n), comma = ",";
}
