/* From probabilities to a chord and what else would do. */
#include "harmony_internal.h"

#include <math.h>

double us_harmony_fit(struct us_key key, enum us_role role, int pitch)
{
    us_pcset tones = us_chord_tones(us_chord_primary(key, role));
    if (role == US_ROLE_V) tones |= us_pcset_transpose(1, key.tonic + 5);
    if (us_pcset_has(tones, pitch)) return role == US_ROLE_V ? log(0.2) : log(0.24);
    return us_pcset_has(us_key_scale(key), pitch) ? log(0.05) : log(0.01);
}

double us_harmony_move(enum us_role from, enum us_role to, bool on_bar)
{
    static const double STAY[2] = {0.85, 0.6};
    static const double SHARE[US_ROLES][US_ROLES] = {
        [US_ROLE_I] = {0, 0, 0.4, 0.6}, [US_ROLE_IV] = {0, 0.55, 0, 0.45}, [US_ROLE_V] = {0, 0.9, 0.1, 0}};
    return log(from == to ? STAY[on_bar] : (1 - STAY[on_bar]) * SHARE[from][to]);
}

void us_harmony_choose(const double role[US_ROLES], struct us_key key, enum us_chords chords,
                       struct us_choice *out)
{
    *out = (struct us_choice){.chord = {US_NO_CHORD, US_CHORD_MAJ}};
    if (key.tonic == US_NO_KEY) return;
    for (int r = 0; r < US_ROLES; r++)
        out->role[r] = role[r];
    enum us_role order[3] = {US_ROLE_I, US_ROLE_IV, US_ROLE_V};
    for (int i = 1; i < 3; i++)
        for (int k = i; k > 0 && role[order[k]] > role[order[k - 1]]; k--) {
            enum us_role swap = order[k];
            order[k] = order[k - 1];
            order[k - 1] = swap;
        }
    if (chords == US_CHORDS_I) {
        out->chord = us_chord_primary(key, US_ROLE_I);
        out->probability = role[US_ROLE_I];
        return;
    }
    out->chord = us_chord_primary(key, order[0]);
    out->probability = role[order[0]];
    out->alternatives = 2;
    for (int i = 0; i < 2; i++) {
        out->alternative[i] = us_chord_primary(key, order[i + 1]);
        out->alternative_probability[i] = role[order[i + 1]];
    }
}
