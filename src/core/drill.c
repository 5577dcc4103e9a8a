#include "undersong/drill.h"

#include <string.h>

enum { SHORTEST_TUNE = 8 };

void us_drill_of_keys(struct us_drill *drill, const struct us_key *keys, uint8_t count)
{
    memset(drill, 0, sizeof *drill);
    drill->home.tonic = drill->played.tonic = US_NO_KEY;
    drill->shift = US_DRILL_NO_SHIFT;
    memcpy(drill->keys, keys, count * sizeof *keys);
    drill->count = count;
    drill->asked = keys[0];
}

void us_drill_another_tune(struct us_drill *d)
{
    d->opening_count = d->recent_count = 0;
    d->notes = d->tune_notes = 0;
    d->home.tonic = US_NO_KEY;
    d->shift = US_DRILL_NO_SHIFT;
}

bool us_drill_parse(const char *text, struct us_drill *drill, const char **bad)
{
    struct us_key keys[US_DRILL_KEYS_MAX];
    uint8_t count = 0;
    for (;;) {
        char name[16];
        size_t length = strcspn(text, ",");
        if (bad) *bad = text;
        if (length >= sizeof name || count == US_DRILL_KEYS_MAX) return false;
        memcpy(name, text, length);
        name[length] = '\0';
        if (!us_key_parse(name, &keys[count])) return false;
        count++;
        if (!text[length]) break;
        text += length + 1;
    }
    us_drill_of_keys(drill, keys, count);
    return true;
}

struct us_key us_drill_after(const struct us_drill *d)
{
    return d->keys[(d->now + 1) % d->count];
}

static enum us_drill_news tell(struct us_drill *d, enum us_drill_news news)
{
    d->last = (uint8_t)news;
    return news;
}

static enum us_drill_news go_on(struct us_drill *d)
{
    d->played = d->keys[d->now];
    d->now = (uint8_t)((d->now + 1) % d->count);
    d->asked = d->keys[d->now];
    return tell(d, d->now ? US_DRILL_NEXT : US_DRILL_DONE);
}

static void remember(struct us_drill *d, int pitch)
{
    if (d->opening_count < US_DRILL_OPENING) d->opening[d->opening_count++] = (int16_t)pitch;
    if (d->recent_count == US_DRILL_OPENING) {
        memmove(d->recent, d->recent + 1, sizeof d->recent - sizeof *d->recent);
        d->recent_count--;
    }
    d->recent[d->recent_count++] = (int16_t)pitch;
}

/* Whether the last notes are the tune's opening, moved up by `*shift` semitones. */
static bool is_opening(const struct us_drill *d, int *shift)
{
    if (d->recent_count < US_DRILL_OPENING || d->opening_count < US_DRILL_OPENING) return false;
    *shift = d->recent[0] - d->opening[0];
    for (int i = 1; i < US_DRILL_OPENING; i++)
        if (d->recent[i] - d->opening[i] != *shift) return false;
    return true;
}

static bool is_whole(const struct us_drill *d, uint32_t notes)
{
    return notes >= SHORTEST_TUNE && 3 * notes >= 2 * d->tune_notes;
}

enum us_drill_news us_drill_note(struct us_drill *d, int pitch)
{
    int shift;
    remember(d, pitch);
    d->notes++;
    if (d->home.tonic == US_NO_KEY || !is_opening(d, &shift)) return US_DRILL_NOTHING;
    if (d->notes == US_DRILL_OPENING) d->shift = (int8_t)shift;
    struct us_key next = us_drill_after(d);
    uint32_t before = d->notes - US_DRILL_OPENING;
    if (us_pitch_class(d->home.tonic + shift) != next.tonic || next.mode != d->home.mode ||
        us_key_equal(next, d->asked) || !is_whole(d, before))
        return US_DRILL_NOTHING;
    if (before > d->tune_notes) d->tune_notes = before;
    d->notes = US_DRILL_OPENING;
    d->shift = (int8_t)shift;
    return go_on(d);
}

enum us_drill_news us_drill_run_over(struct us_drill *d, struct us_key key)
{
    uint32_t notes = d->notes;
    int shift = d->shift;
    d->notes = 0;
    d->shift = US_DRILL_NO_SHIFT;
    d->recent_count = 0;
    if (key.tonic == US_NO_KEY || !is_whole(d, notes)) {
        /* Too short to know the tune by: the next run may show its opening. */
        if (d->home.tonic == US_NO_KEY) d->opening_count = 0;
        return US_DRILL_NOTHING;
    }
    if (notes > d->tune_notes) d->tune_notes = notes;
    if (d->home.tonic == US_NO_KEY)
        d->home = key;
    else if (shift != US_DRILL_NO_SHIFT)
        key = (struct us_key){(int8_t)us_pitch_class(d->home.tonic + shift), d->home.mode};
    d->played = key;
    return us_key_equal(key, d->asked) ? go_on(d) : tell(d, US_DRILL_AGAIN);
}
