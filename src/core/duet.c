/* The line a third or a sixth below the melody. */
#include "undersong/second_voice.h"

enum { DUET_LOWEST = 41 /* F2 */ };

static bool rubs(us_pcset tones, int pitch)
{
    return !us_pcset_has(tones, pitch) && (us_pcset_has(tones, pitch + 1) || us_pcset_has(tones, pitch - 1));
}

/* The first interval of the list at which a note of `allowed` lies that does not rub against the chord. */
static int first_of(const int8_t *intervals, int melody, us_pcset allowed, us_pcset tones)
{
    for (; *intervals; intervals++) {
        int pitch = melody - *intervals;
        if (us_pcset_has(allowed, pitch) && !rubs(tones, pitch)) return pitch;
    }
    return -1;
}

int us_duet_below(enum us_second_voice kind, int melody, struct us_key key, struct us_chord chord,
                  bool strong)
{
    static const int8_t THIRDS[] = {3, 4, 5, 8, 9, 7, 0}, SIXTHS[] = {8, 9, 5, 3, 4, 7, 0};
    if ((kind != US_SECOND_THIRD && kind != US_SECOND_SIXTH) || key.tonic == US_NO_KEY) return -1;
    const int8_t *intervals = kind == US_SECOND_THIRD ? THIRDS : SIXTHS;
    /* Plain notes beside an altered one of the chord rub against it, so the scale bends by itself. */
    us_pcset tones = us_chord_tones(chord), scale = us_key_scale(key) | tones;
    int below = -1;
    /* A third below the keynote is no note of I, and there tunes come to rest. */
    if (chord.root == key.tonic && us_pitch_class(melody) == key.tonic) strong = true;
    if (strong && us_pcset_has(tones, melody)) below = first_of(intervals, melody, tones, tones);
    if (below < 0) below = first_of(intervals, melody, scale, tones);
    return below < DUET_LOWEST ? -1 : below;
}
