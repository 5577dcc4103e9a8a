#include "practice.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "kept.h"
#include "undersong/review.h"

/* So many of the latest sessions, fewer where the tune has to be found in them, which takes longer; and keys
   of a drill (chosen by us, no source). */
enum { SESSIONS_MOST = 20, SESSIONS_TO_SEARCH = 5, DRILL_KEYS = 4 };

static struct us_key major_c(void)
{
    return (struct us_key){0, US_MODE_MAJOR};
}

static void take_keys(const struct us_review *review, struct practice *out)
{
    out->known = review->take_count > 0;
    for (size_t i = 0; i < review->key_count && out->count < US_PITCH_CLASSES; i++)
        out->records[out->count++] = review->keys[i];
    if (review->key.tonic != US_NO_KEY) out->home = review->key;
}

static void review(const struct us_session *sessions, size_t count, const struct us_tune *tune,
                   struct practice *out)
{
    struct us_review found;
    struct us_error ignored;
    if (!count || us_review_make(&found, sessions, count, tune, &ignored)) return;
    take_keys(&found, out);
    us_review_finish(&found);
}

void practice_read(const struct us_tune *tune, struct practice *out)
{
    struct us_error ignored;
    struct inputs inputs;
    char folder[1024];
    const char *items[] = {folder};
    struct us_session sessions[SESSIONS_MOST];
    size_t count = 0;
    memset(out, 0, sizeof *out);
    out->home = tune && tune->key.tonic != US_NO_KEY ? tune->key : major_c();
    if (kept_folder(folder, sizeof folder, &ignored)) return;
    if (inputs_collect(&(struct text_list){items, 1}, &inputs, &ignored)) return;
    size_t most = tune ? SESSIONS_MOST : SESSIONS_TO_SEARCH;
    for (size_t i = inputs.count > most ? inputs.count - most : 0; i < inputs.count; i++)
        count += !us_session_load(inputs.paths[i], &sessions[count], &ignored);
    inputs_finish(&inputs);
    review(sessions, count, tune, out);
    for (size_t i = 0; i < count; i++)
        us_session_finish(&sessions[i]);
}

char *practice_words(const struct practice *practice, char out[PRACTICE_WORDS])
{
    enum us_next_reason reason;
    struct us_key next = us_next_key(practice->records, practice->count, practice->home, &reason);
    return us_next_key_words(next, reason, out, PRACTICE_WORDS);
}

/* As if the key went well. */
static void learn(struct practice *p, struct us_key key)
{
    size_t i = 0;
    while (i < p->count && !us_key_equal(p->records[i].key, key))
        i++;
    if (i == sizeof p->records / sizeof *p->records) return;
    if (i == p->count) p->records[p->count++] = (struct us_key_record){.key = key, .notes = 100};
    p->records[i].times++;
    p->records[i].right = p->records[i].notes;
    p->records[i].waits = 0;
}

void practice_drill(const struct practice *practice, struct us_drill *drill)
{
    struct practice later = *practice;
    struct us_key keys[DRILL_KEYS];
    for (int i = 0; i < DRILL_KEYS; i++) {
        keys[i] = us_next_key(later.records, later.count, later.home, NULL);
        learn(&later, keys[i]);
    }
    us_drill_of_keys(drill, keys, DRILL_KEYS);
}
