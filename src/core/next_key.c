#include "undersong/next_key.h"

#include <stdio.h>

static const double SAFE = 0.92;
enum { ENOUGH_NOTES = 8 };

double us_key_record_score(const struct us_key_record *record)
{
    if (!record->notes) return 0;
    double lost = (double)record->notes - (double)record->right + (double)record->waits;
    double score = 1 - lost / (double)record->notes;
    return score > 0 ? score : 0;
}

static const struct us_key_record *find(const struct us_key_record *records, size_t count, int tonic)
{
    for (size_t i = 0; i < count; i++)
        if (records[i].key.tonic == tonic && records[i].notes >= ENOUGH_NOTES) return &records[i];
    return NULL;
}

/* The nearest key on the circle of fifths that was not practised: first one sharp more, then one flat. */
static bool new_neighbour(const struct us_key_record *records, size_t count, struct us_key home,
                          struct us_key *next)
{
    for (int distance = 1; distance <= 6; distance++)
        for (int side = 1; side >= -1; side -= 2) {
            int tonic = us_pitch_class(home.tonic + 7 * side * distance);
            if (find(records, count, tonic)) continue;
            *next = (struct us_key){(int8_t)tonic, home.mode};
            return true;
        }
    return false;
}

struct us_key us_next_key(const struct us_key_record *records, size_t count, struct us_key home,
                          enum us_next_reason *reason)
{
    const struct us_key_record *worst = NULL, *least = NULL;
    for (size_t i = 0; i < count; i++) {
        const struct us_key_record *r = &records[i];
        if (r->notes < ENOUGH_NOTES) continue;
        if (!worst || us_key_record_score(r) < us_key_record_score(worst)) worst = r;
        if (!least || r->times < least->times) least = r;
    }
    enum us_next_reason why = US_NEXT_FIRST;
    struct us_key next = home;
    if (worst && us_key_record_score(worst) < SAFE)
        next = worst->key, why = US_NEXT_AGAIN;
    else if (worst && home.tonic != US_NO_KEY && !find(records, count, home.tonic))
        why = US_NEXT_NEW;
    else if (worst && home.tonic != US_NO_KEY && new_neighbour(records, count, home, &next))
        why = US_NEXT_NEW;
    else if (worst)
        next = least->key, why = US_NEXT_ROUND;
    if (reason) *reason = why;
    return next;
}

char *us_next_key_words(struct us_key next, enum us_next_reason reason, char *out, size_t size)
{
    static const char *const SAY[] = {
        [US_NEXT_FIRST] = "Begin with the tune in %s.  Reason: it is the key it is written in.",
        [US_NEXT_AGAIN] =
            "Play it once more in %s.  Reason: of the keys you played it is the least safe yet.",
        [US_NEXT_NEW] =
            "Try it in %s next.  Reason: the keys you played are safe, and this one is their neighbour.",
        [US_NEXT_ROUND] =
            "Play it in %s again.  Reason: every key is safe, and this one you have played least.",
    };
    char key[40];
    snprintf(out, size, SAY[reason], us_key_name(next, key, sizeof key));
    return out;
}
