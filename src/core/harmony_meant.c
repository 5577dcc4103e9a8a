/* Which chord a role is meant for: its own triad, or one that the triad stands in for. */
#include <math.h>

#include "harmony_internal.h"

double us_harmony_own_share(const float class_outs[US_HARMONY_CLASSES], struct us_key key, enum us_role role,
                            int *other)
{
    int own = us_class_of(us_chord_primary(key, role), key) / 2;
    double self = 0, all = 1e-12, most = 0;
    *other = -1;
    for (int i = 0; i < US_HARMONY_CLASSES; i++) {
        if (us_class_role(i, key) != role) continue;
        double p = exp((double)class_outs[i]);
        all += p;
        if (i / 2 == own) {
            self += p;
        } else if (p > most) {
            most = p;
            *other = i;
        }
    }
    return self / all;
}

us_pcset us_harmony_tones_above(struct us_key key, enum us_role role)
{
    key.tonic = 0;
    return us_chord_tones(us_chord_primary(key, role));
}

bool us_harmony_rubs(struct us_key key, enum us_role role, int step)
{
    us_pcset tones = us_harmony_tones_above(key, role);
    if (us_pcset_has(tones, step)) return false;
    return us_pcset_has(tones, step + 1) || us_pcset_has(tones, step + 11);
}

double us_harmony_welcome(struct us_key key, enum us_role role, int step, double own)
{
    if (us_pcset_has(us_harmony_tones_above(key, role), step)) return 1;
    return us_harmony_rubs(key, role, step) ? own * US_CLASH + (1 - own) * US_RUB : US_CLASH;
}
