#include <stdlib.h>

#include "undersong/keyfinder.h"
#include "undersong/tune_file.h"

struct us_key us_tune_key(const struct us_tune *tune)
{
    struct us_key key = tune->key;
    if (key.tonic != US_NO_KEY) return key;
    int *pitches = calloc(tune->note_count + 1, sizeof *pitches);
    if (!pitches) return key;
    for (size_t i = 0; i < tune->note_count; i++)
        pitches[i] = tune->notes[i].pitch;
    key = us_key_of_tune(pitches, tune->note_count, NULL);
    free(pitches);
    return key;
}
