#include <stdlib.h>

#include "review_parts.h"

/* Steps of the scale between two pitches of the key, upwards positive. */
static int steps_between(struct us_key key, int from, int to)
{
    us_pcset scale = us_key_scale(key);
    int steps = 0, low = from < to ? from : to, high = from < to ? to : from;
    for (int pitch = low; pitch < high; pitch++)
        steps += us_pcset_has(scale, pitch);
    return from < to ? steps : -steps;
}

static bool is_step(int steps)
{
    return abs(steps) == 1;
}

enum us_review_mark_cause review_cause(const struct us_tune *tune, struct us_key key, int32_t note, int shift,
                                       int played)
{
    int wanted = tune->notes[note].pitch + shift, off = played - wanted;
    if (off == 0) return US_CAUSE_NONE;
    if (off % 12 == 0) return US_CAUSE_OCTAVE;
    us_pcset scale = key.tonic == US_NO_KEY ? 0xfff : us_key_scale(key);
    if (abs(off) == 1 && us_pcset_has(scale, wanted) != us_pcset_has(scale, played))
        return US_CAUSE_SIGN_FORGOTTEN;
    if (note > 0 && key.tonic != US_NO_KEY) {
        int before = tune->notes[note - 1].pitch + shift;
        int right = steps_between(key, before, wanted), got = steps_between(key, before, played);
        if (right * got > 0 && abs(right) >= 2 && is_step(got)) return US_CAUSE_SKIP_AS_STEP;
        if (right * got > 0 && is_step(right) && abs(got) >= 2) return US_CAUSE_STEP_AS_SKIP;
    }
    return off > 0 ? US_CAUSE_TOO_HIGH : US_CAUSE_TOO_LOW;
}

const char *us_review_mark_cause_words(enum us_review_mark_cause cause)
{
    static const char *const WORDS[US_CAUSES] = {
        [US_CAUSE_NONE] = "",
        [US_CAUSE_SKIP_AS_STEP] = "a skip played as a step",
        [US_CAUSE_STEP_AS_SKIP] = "a step played as a skip",
        [US_CAUSE_SIGN_FORGOTTEN] = "the sharp or flat of the key forgotten",
        [US_CAUSE_OCTAVE] = "the right note in another octave",
        [US_CAUSE_TOO_HIGH] = "too high",
        [US_CAUSE_TOO_LOW] = "too low",
    };
    return WORDS[cause];
}
