/* The line a third or a sixth below the melody. */
#include "undersong/second_voice.h"

#include <string.h>

enum { DUET_LOWEST = 41 /* F2 */ };

/* The key's scale with the chord's altered tones in place of the plain ones: F sharp for F under D in C. */
static us_pcset bent_scale(struct us_key key, struct us_chord chord)
{
    us_pcset scale = us_key_scale(key), tones = us_chord_tones(chord);
    if (!tones) return scale;
    struct us_step root = us_key_step(key, chord.root);
    static const int8_t ABOVE[US_CHORD_KINDS][4] = {
        {0, 4, 7, 0}, {0, 3, 7, 0}, {0, 3, 6, 0}, {0, 4, 7, 10}, {0, 3, 7, 10}};
    for (int i = 0; i < 4; i++) {
        int tone = chord.root + ABOVE[chord.kind][i];
        if (us_pcset_has(scale, tone)) continue;
        int plain =
            key.tonic + us_mode_step_semitones((enum us_mode)key.mode, (root.number - 1 + 2 * i) % 7 + 1);
        us_pcset replaced = (us_pcset)(1u << us_pitch_class(plain));
        if (!(replaced & tones)) scale &= (us_pcset)~replaced;
    }
    return scale | tones;
}

static int steps_down(us_pcset scale, int pitch, int steps)
{
    while (steps > 0)
        if (us_pcset_has(scale, --pitch)) steps--;
    return pitch;
}

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
    if ((kind != US_SECOND_THIRD && kind != US_SECOND_SIXTH) || key.tonic == US_NO_KEY || melody < 12)
        return -1;
    const int8_t *intervals = kind == US_SECOND_THIRD ? THIRDS : SIXTHS;
    us_pcset scale = bent_scale(key, chord), tones = us_chord_tones(chord);
    int below = -1;
    if (strong && us_pcset_has(tones, melody)) {
        below = first_of(intervals, melody, tones, tones);
    } else if (us_pcset_has(scale, melody)) {
        below = steps_down(scale, melody, kind == US_SECOND_THIRD ? 2 : 5);
        int interval = melody - below;
        bool as_named =
            kind == US_SECOND_THIRD ? interval == 3 || interval == 4 : interval == 8 || interval == 9;
        if (!as_named || rubs(tones, below)) below = -1;
    }
    if (below < 0) below = first_of(intervals, melody, scale, tones);
    return below < DUET_LOWEST ? -1 : below;
}
