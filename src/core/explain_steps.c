/* What the steps of the melody say for a chord, and against it. */
#include "explain_parts.h"

#include <stdarg.h>
#include <stdio.h>
#include <string.h>

enum { CLAUSES_MAX = 4 };

void us_tell(struct telling *t, uint32_t cause, const char *format, ...)
{
    struct us_reason *r = t->out;
    r->causes |= cause;
    if (t->clauses >= CLAUSES_MAX) return;
    size_t used = strlen(r->text);
    if (t->clauses++ > 0) used += (size_t)snprintf(r->text + used, sizeof r->text - used, "; ");
    if (used >= sizeof r->text) return;
    va_list args;
    va_start(args, format);
    vsnprintf(r->text + used, sizeof r->text - used, format, args);
    va_end(args);
}

const char *us_tell_numeral(const struct telling *t, enum us_role role, char *out)
{
    struct us_chord chord = us_chord_primary(t->heard.key, role);
    return us_chord_numeral(chord, t->heard.key, out, US_NUMERAL_SIZE);
}

/* "step 5", "steps 3 and 1": those of the main steps that are in `tones`, or those that are not. */
static size_t list_steps(const struct telling *t, us_pcset tones, bool inside, char *out, size_t size)
{
    const struct heard *h = &t->heard;
    size_t count = 0, total = 0;
    for (size_t i = 0; i < h->main_count; i++)
        total += us_pcset_has(tones, h->main[i]) == inside;
    bool numbers = t->e->names == US_STEPS_NUMBERS;
    size_t used = (size_t)snprintf(out, size, "%s", !numbers ? "" : total > 1 ? "steps " : "step ");
    for (size_t i = 0; i < h->main_count; i++) {
        char name[16];
        if (us_pcset_has(tones, h->main[i]) != inside) continue;
        const char *joint = count == 0 ? "" : count + 1 == total ? " and " : ", ";
        us_step_name(h->key, h->main[i], t->e->names, name, sizeof name);
        count++;
        if (used < size) used += (size_t)snprintf(out + used, size - used, "%s%s", joint, name);
    }
    return total;
}

static us_pcset role_tones(const struct telling *t, enum us_role role)
{
    return us_chord_tones(us_chord_primary(t->heard.key, role));
}

/* The other primary triads that hold all the main steps. */
static size_t rivals(const struct telling *t, enum us_role *out)
{
    size_t count = 0;
    for (enum us_role r = US_ROLE_I; r < US_ROLES; r++)
        if (r != t->role && us_heard_holds(&t->heard, role_tones(t, r))) out[count++] = r;
    return count;
}

bool us_tells_primary(const struct telling *t)
{
    return t->role != US_ROLE_NONE && us_chord_primary(t->heard.key, t->role).root == t->heard.chord.root;
}

/* Why this one of two that would do. */
static void say_why_this(struct telling *t, const enum us_role *others, size_t count)
{
    char other[US_NUMERAL_SIZE];
    if (!us_tells_primary(t)) return;
    bool between = t->before == t->after && t->before != t->role;
    for (size_t i = 0; i < count && between; i++)
        if (others[i] == t->before) {
            us_tell(t, US_CAUSE_MOVEMENT, "%s stands on both sides, so %s gives movement",
                    us_tell_numeral(t, t->before, other), t->name);
            return;
        }
    if (t->before == t->role)
        us_tell(t, US_CAUSE_STAYS, "%s simply stays", t->name);
    else if (t->role == US_ROLE_V && t->after == US_ROLE_I)
        us_tell(t, US_CAUSE_LEADS_HOME, "%s leads home to %s", t->name, us_tell_numeral(t, US_ROLE_I, other));
    else if (t->role == US_ROLE_I && t->before == US_ROLE_V)
        us_tell(t, US_CAUSE_COMES_HOME, "after %s it comes home", us_tell_numeral(t, US_ROLE_V, other));
    else if (t->role == US_ROLE_IV && t->after == US_ROLE_V)
        us_tell(t, US_CAUSE_PREPARES, "%s prepares %s", t->name, us_tell_numeral(t, US_ROLE_V, other));
    else if (count > 0 && t->likelier)
        us_tell(t, US_CAUSE_LIKELIER, "%s is the likelier here", t->name);
}

/* The fourth step over V is the seventh of V7. */
static bool is_seventh(const struct telling *t)
{
    int above = us_pitch_class(t->heard.main[0] - t->heard.chord.root);
    return t->heard.main_count == 1 && t->role == US_ROLE_V && t->heard.chord.kind == US_CHORD_MAJ &&
           us_tells_primary(t) && above == 10;
}

/* The chord that is meant here and holds the steps, where the one that is explained stands in for it. */
static bool is_meant(const struct telling *t, struct us_chord *meant)
{
    const struct us_harmony_view *view = &t->e->view;
    size_t i = 0;
    while (i + 1 < view->beat_count && view->beats[i + 1].at < t->from + 1e-3)
        i++;
    if (i >= view->beat_count || view->beats[i].meant.root == US_NO_CHORD) return false;
    *meant = view->beats[i].meant;
    return us_chord_equal(view->beats[i].chord, t->heard.chord) &&
           us_heard_holds(&t->heard, us_chord_tones(*meant));
}

/* That none of the steps that count is in the chord: which they are. */
static void say_outside(struct telling *t, bool only_thought_of)
{
    char steps[80], other[US_NUMERAL_SIZE];
    struct us_chord meant;
    size_t outside = list_steps(t, us_chord_tones(t->heard.chord), false, steps, sizeof steps);
    const char *are = outside > 1 ? "are" : "is";
    if (outside == 0)
        us_tell(t, US_CAUSE_SILENT, "the melody rests");
    else if (is_seventh(t))
        us_tell(t, US_CAUSE_SEVENTH, "%s %s %s a %s7", steps, only_thought_of ? "would make" : "makes",
                t->name, t->name);
    else if (!only_thought_of && is_meant(t, &meant))
        us_tell(t, US_CAUSE_STAND_IN, "%s %s in %s, for which %s stands", steps, are,
                us_chord_numeral(meant, t->heard.key, other, sizeof other), t->name);
    else
        us_tell(t, 0, "%s %s not in %s", steps, are, t->name);
}

void us_tell_steps(struct telling *t)
{
    char steps[80], other[US_NUMERAL_SIZE], another[US_NUMERAL_SIZE];
    enum us_role others[US_ROLES];
    us_pcset tones = us_chord_tones(t->heard.chord);
    size_t count = rivals(t, others), inside = list_steps(t, tones, true, steps, sizeof steps);
    const char *are = inside > 1 ? "are" : "is";
    if (!us_heard_holds(&t->heard, tones)) {
        if (inside)
            us_tell(t, 0, "%s %s in %s", steps, are, t->name);
        else
            say_outside(t, false);
        if (t->before == t->role || t->after != US_ROLE_NONE) say_why_this(t, others, 0);
    } else if (count == 0) {
        if (us_tells_primary(t))
            us_tell(t, US_CAUSE_ONLY, "%s %s%s in %s alone", steps, are, inside > 1 ? " together" : "",
                    t->name);
        else
            us_tell(t, 0, "%s %s in %s", steps, are, t->name);
    } else {
        us_tell_numeral(t, others[0], other);
        if (count > 1)
            us_tell(t, US_CAUSE_SHARED, "%s %s in %s, in %s and in %s", steps, are, t->name, other,
                    us_tell_numeral(t, others[1], another));
        else
            us_tell(t, US_CAUSE_SHARED, "%s %s in %s and in %s", steps, are, t->name, other);
        say_why_this(t, others, count);
    }
}

/* Whether the chord that was taken holds all the steps of the other one's that it holds. */
static bool chosen_holds_too(const struct telling *t, struct us_chord taken, us_pcset tones)
{
    us_pcset chosen = us_chord_tones(taken);
    for (size_t i = 0; i < t->heard.main_count; i++) {
        int pitch = t->heard.main[i];
        if (us_pcset_has(tones, pitch) && !us_pcset_has(chosen, pitch)) return false;
    }
    return true;
}

void us_tell_what_it_holds(struct telling *t, struct us_chord taken)
{
    char steps[80], rest[80];
    us_pcset tones = us_chord_tones(t->heard.chord);
    size_t inside = list_steps(t, tones, true, steps, sizeof steps);
    size_t outside = list_steps(t, tones, false, rest, sizeof rest);
    const char *are = inside > 1 ? "are" : "is";
    if (inside && !outside)
        us_tell(t, US_CAUSE_SHARED, "%s %s in %s%s", steps, are, t->name,
                chosen_holds_too(t, taken, tones) ? " too" : "");
    else if (inside)
        us_tell(t, 0, "%s %s in %s, %s not", steps, are, t->name, rest);
    else
        say_outside(t, true);
}
