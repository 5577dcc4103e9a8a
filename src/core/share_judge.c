/* Whether a learner's left hand fits, and how to say it. */
#include "undersong/share.h"

#include <stdio.h>
#include <string.h>

static const double WOULD_DO = 0.15;

static us_pcset allowed(struct us_chord chord)
{
    us_pcset tones = us_chord_tones(chord);
    if (chord.kind == US_CHORD_MAJ) tones |= (us_pcset)(1u << us_pitch_class(chord.root + 10));
    return tones;
}

/* The root tells the chord; so do third and fifth together. */
static bool tells(us_pcset played, struct us_chord chord)
{
    us_pcset tones = us_chord_tones(chord), root = (us_pcset)(1u << chord.root);
    us_pcset upper = tones & (us_pcset)~root & (us_pcset)~us_pcset_transpose(1 << 10, chord.root);
    return (played & root) || (played & upper) == upper;
}

static bool fits(us_pcset played, struct us_chord chord)
{
    return chord.root != US_NO_CHORD && !(played & ~allowed(chord)) && tells(played, chord);
}

static struct us_chord chord_of(us_pcset played)
{
    for (int kind = 0; kind < US_CHORD_KINDS; kind++)
        for (int root = 0; root < US_PITCH_CLASSES; root++) {
            struct us_chord chord = {(int8_t)root, (uint8_t)kind};
            if (us_chord_tones(chord) == played) return chord;
        }
    return (struct us_chord){US_NO_CHORD, US_CHORD_MAJ};
}

void us_share_judge(us_pcset played, const struct us_choice *choice, struct us_verdict *out)
{
    memset(out, 0, sizeof *out);
    out->played = played;
    out->expected = choice->chord;
    out->as = chord_of(played);
    for (int i = 0; i < choice->alternatives; i++)
        if (choice->alternative_probability[i] >= WOULD_DO)
            out->other[out->others++] = choice->alternative[i];
    if (!played || choice->chord.root == US_NO_CHORD) return;
    if (fits(played, choice->chord)) {
        out->fit = US_FIT_YES;
        return;
    }
    for (int i = 0; i < out->others; i++)
        if (fits(played, out->other[i])) {
            out->fit = US_FIT_ALSO;
            out->as = out->other[i];
            return;
        }
    out->wrong = played & (us_pcset)~allowed(choice->chord);
    out->fit = out->wrong ? US_FIT_NO : US_FIT_THIN;
}

static void letters(us_pcset set, struct us_key key, char *out, size_t size)
{
    size_t used = 0;
    char letter[4];
    *out = '\0';
    for (int pc = 0; pc < US_PITCH_CLASSES && used < size; pc++)
        if (us_pcset_has(set, pc))
            used += (size_t)snprintf(out + used, size - used, "%s%s", used ? " and " : "",
                                     us_key_letter(key, pc, letter, sizeof letter));
}

char *us_verdict_words(const struct us_verdict *v, struct us_key key, char *out, size_t size)
{
    char expected[8], as[8], other[8], notes[64], would[16] = "";
    us_chord_symbol(v->expected, key, expected, sizeof expected);
    us_chord_symbol(v->as, key, as, sizeof as);
    if (v->others)
        snprintf(would, sizeof would, ", or %s", us_chord_symbol(v->other[0], key, other, sizeof other));
    letters(v->fit == US_FIT_NO ? v->wrong : v->played, key, notes, sizeof notes);
    switch (v->fit) {
    case US_FIT_YES: snprintf(out, size, "%s fits", expected); break;
    case US_FIT_ALSO: snprintf(out, size, "%s would do too; %s was expected", as, expected); break;
    case US_FIT_THIN:
        snprintf(out, size, "%s alone does not tell the chord: %s was expected", notes, expected);
        break;
    case US_FIT_NO:
        if (v->as.root != US_NO_CHORD)
            snprintf(out, size, "%s does not fit: %s does%s", as, expected, would);
        else
            snprintf(out, size, "not %s: %s fits%s", notes, expected, would);
        break;
    default: snprintf(out, size, "%s", ""); break;
    }
    return out;
}
