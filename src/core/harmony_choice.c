/* From probabilities to a chord and what else would do. */
#include "harmony_internal.h"

enum { CLASSES = US_HARMONY_CLASSES };

int us_class_of(struct us_chord chord, struct us_key key)
{
    bool minor = chord.kind == US_CHORD_MIN || chord.kind == US_CHORD_MIN7 || chord.kind == US_CHORD_DIM;
    return 2 * us_pitch_class(chord.root - key.tonic) + minor;
}

/* The kind of the triad on a degree of the scale where its third is minor: diminished where the scale has no
   pure fifth above it, and on the leading note. */
static enum us_chord_kind minor_kind(int above, struct us_key key)
{
    bool leading = above == 11;
    bool fifth = us_pcset_has(us_key_scale(key), key.tonic + above + 7);
    bool degree = us_pcset_has(us_key_scale(key), key.tonic + above);
    return leading || (degree && !fifth) ? US_CHORD_DIM : US_CHORD_MIN;
}

struct us_chord us_class_chord(int class, struct us_key key, const struct us_harmony_tables *tables)
{
    int above = class / 2;
    struct us_chord chord = {(int8_t)us_pitch_class(key.tonic + above), US_CHORD_MAJ};
    if (class % 2) {
        chord.kind = (uint8_t)minor_kind(above, key);
        return chord;
    }
    /* A dominant, of the key or of another degree, takes its seventh where that is the habit. */
    bool third = us_pcset_has(us_key_scale(key), key.tonic + above + 4);
    bool minor = us_mode_has_minor_third((enum us_mode)key.mode);
    bool seventh = tables->seventh[minor][class] > 0.5f;
    if ((above == 7 && seventh) || (above != 7 && !third)) chord.kind = US_CHORD_DOM7;
    return chord;
}

enum us_role us_class_role(int class, struct us_key key)
{
    struct us_chord chord = {(int8_t)us_pitch_class(key.tonic + class / 2),
                             class % 2 ? US_CHORD_MIN : US_CHORD_MAJ};
    return us_chord_role(chord, key);
}

static bool is_wide(int class, struct us_key key)
{
    int above = class / 2;
    us_pcset scale = us_key_scale(key);
    bool leads = key.mode == US_MODE_MAJOR || key.mode == US_MODE_MINOR; /* step 7 is raised before 1 */
    if (class == 2 * 7 || class == 2 * 11 + 1) return leads;
    bool degree = us_pcset_has(scale, key.tonic + above);
    bool own_third = us_pcset_has(scale, key.tonic + above + (class % 2 ? 3 : 4));
    if (degree && own_third && !(above == 7 && key.mode == US_MODE_MINOR)) return true;
    /* A secondary dominant leads down a fifth to a degree with a pure fifth of its own. */
    bool target = us_pcset_has(scale, key.tonic + above + 5) && us_pcset_has(scale, key.tonic + above);
    return class % 2 == 0 && degree && target && us_pcset_has(scale, key.tonic + above + 5 + 7);
}

int us_class_fold(int class, struct us_key key)
{
    if (is_wide(class, key)) return class;
    return is_wide(class ^ 1, key) ? class ^ 1 : -1;
}

/* The `count` likeliest of `p`, most likely first. */
static int rank(const double *p, int n, int *order, int count)
{
    int found = 0;
    for (int i = 0; i < n; i++) {
        if (p[i] <= 0) continue;
        int at = found < count ? found++ : count;
        if (at == count && p[i] <= p[order[count - 1]]) continue;
        if (at == count) at--;
        for (; at > 0 && p[i] > p[order[at - 1]]; at--)
            order[at] = order[at - 1];
        order[at] = i;
    }
    return found;
}

void us_harmony_choose(const double *role, const double *class, struct us_key key, enum us_chords chords,
                       const struct us_harmony_tables *tables, struct us_choice *out)
{
    *out = (struct us_choice){.chord = {US_NO_CHORD, US_CHORD_MAJ}};
    if (key.tonic == US_NO_KEY) return;
    for (int r = 0; r < US_ROLES; r++)
        out->role[r] = role[r];
    if (chords == US_CHORDS_I) {
        out->chord = us_chord_primary(key, US_ROLE_I);
        out->probability = role[US_ROLE_I];
        return;
    }
    bool wide = chords == US_CHORDS_WIDE && class;
    int order[US_ALTERNATIVES_MAX + 1];
    const double *p = wide ? class : role;
    int found = rank(p, wide ? CLASSES : US_ROLES, order, US_ALTERNATIVES_MAX + 1);
    if (!found) out->chord = us_chord_primary(key, US_ROLE_I); /* tables by which nothing is possible */
    for (int i = 0; i < found; i++) {
        struct us_chord chord =
            wide ? us_class_chord(order[i], key, tables) : us_chord_primary(key, (enum us_role)order[i]);
        if (i == 0) {
            out->chord = chord;
            out->probability = p[order[0]];
        } else {
            out->alternative[i - 1] = chord;
            out->alternative_probability[i - 1] = p[order[i]];
            out->alternatives = (uint8_t)i;
        }
    }
}
