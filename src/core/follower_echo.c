/* The tune comes back: where the last few pitches were heard in the same order before. */
#include "follower_parts.h"

enum { LEAST = 4, LEAST_AFTER_PAUSE = 3, MOST = 12 };

static const struct us_follower_note *note_at(const struct us_follower *f, uint32_t index)
{
    return &f->notes[index % US_FOLLOWER_NOTES];
}

/* How many notes up to `here` are the same as those up to the newest. */
static uint8_t alike(const struct us_follower *f, uint32_t here, uint32_t oldest)
{
    uint8_t length = 0;
    while (length < MOST && here >= oldest + length &&
           note_at(f, here - length)->pitch == note_at(f, f->note_count - 1 - length)->pitch)
        length++;
    return length;
}

static float weight_of(const struct us_follower *f, uint32_t length)
{
    float weight = 1;
    for (uint32_t i = 1; i < length; i++)
        weight +=
            note_at(f, f->note_count - i)->pitch == note_at(f, f->note_count - 1 - i)->pitch ? 0.5F : 1.0F;
    return weight;
}

/* Whether the note `back` before the newest came after a stop or a rest. */
static bool paused_before(const struct us_follower *f, uint32_t back)
{
    if (back + 2 > f->note_count) return false;
    const struct us_follower_note *first = note_at(f, f->note_count - 1 - back),
                                  *before = note_at(f, f->note_count - 2 - back);
    float quarter_s = best_guess(f)->quarter_s;
    double rest_s = first->at_s - (before->off_s < 0 ? first->at_s : before->off_s);
    return first->stopped || rest_s > 0.8 * (double)quarter_s;
}

/* How far back from the newest note the player last paused, counted in notes that are alike; 0: not lately.
 */
static uint8_t since_pause(const struct us_follower *f)
{
    for (uint8_t since = LEAST_AFTER_PAUSE; since <= MOST; since++)
        if (paused_before(f, (uint32_t)since - 1)) return since;
    return 0;
}

void echo_find(struct us_follower *f)
{
    f->echo_count = 0;
    uint32_t newest = f->note_count - 1;
    uint32_t oldest = newest >= US_FOLLOWER_NOTES - 1 ? newest - (US_FOLLOWER_NOTES - 2) : 0;
    uint8_t since = since_pause(f);
    for (uint32_t here = newest; here-- > oldest && f->echo_count < US_FOLLOWER_ECHOES;) {
        if (note_at(f, here)->pitch != note_at(f, newest)->pitch) continue;
        uint8_t length = alike(f, here, oldest);
        bool paused = since && since <= length;
        if (length < (paused ? LEAST_AFTER_PAUSE : LEAST)) continue;
        if (paused) length = since;
        f->echoes[f->echo_count++] = (struct us_follower_echo){here, length, weight_of(f, length), paused};
    }
}
