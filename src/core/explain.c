/* The words of an explanation.  Each clause is written only where its cause is there. */
#include "undersong/explain.h"

#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "explain_notes.h"

static const double NEAR = 1e-3;
enum { CLAUSES_MAX = 4, NUMERAL_SIZE = 16 };

struct telling {
    const struct us_explain *e;
    struct heard heard;
    struct us_reason *out;
    enum us_role role, before, after;
    char name[NUMERAL_SIZE]; /* of the chord that is explained */
    int clauses;
    bool likelier; /* than each alternative */
};

/* One more clause, with `cause`; beyond CLAUSES_MAX only the cause is kept. */
__attribute__((format(printf, 3, 4))) static void say(struct telling *t, uint32_t cause, const char *format,
                                                      ...)
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

static const char *numeral(const struct telling *t, enum us_role role, char *out)
{
    struct us_chord chord = us_chord_primary(t->heard.key, role);
    return us_chord_numeral(chord, t->heard.key, out, NUMERAL_SIZE);
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

/* I, IV or V where the chord is that triad itself; a chord that stands in for one is not named for it. */
static enum us_role role_of(const struct us_explain *e, size_t index)
{
    if (index >= e->count) return US_ROLE_NONE;
    const struct us_chord_choice *c = &e->chords[index];
    struct us_key key = us_explain_key(e, c->at);
    enum us_role role = us_chord_role(c->choice.chord, key);
    return us_chord_primary(key, role).root == c->choice.chord.root ? role : US_ROLE_NONE;
}

static void begin(struct telling *t, const struct us_explain *e, size_t index, struct us_chord chord,
                  double from, double until, struct us_reason *out)
{
    const struct us_chord_choice *c = &e->chords[index];
    memset(out, 0, sizeof *out);
    memset(t, 0, sizeof *t);
    t->e = e;
    t->out = out;
    us_hear(e, chord, from, until, &t->heard);
    t->role = us_chord_role(chord, t->heard.key);
    t->before = from > c->at + NEAR ? role_of(e, index) : index > 0 ? role_of(e, index - 1) : US_ROLE_NONE;
    t->after = until < c->at + c->len - NEAR ? role_of(e, index) : role_of(e, index + 1);
    us_chord_numeral(chord, t->heard.key, t->name, sizeof t->name);
    t->likelier = c->choice.alternatives > 0 && c->choice.probability > c->choice.alternative_probability[0];
}

static bool is_chosen(const struct us_harmony_request *request, double at)
{
    for (size_t i = 0; i < request->fixed_count; i++)
        if (request->fixed[i].at < at + NEAR && at + NEAR < request->fixed[i].at + request->fixed[i].len)
            return true;
    return false;
}

/* The first beat that ends after `at`. */
static size_t beat_after(const struct us_explain *e, double at)
{
    size_t low = 0, high = e->view.beat_count;
    while (low < high) {
        size_t middle = low + (high - low) / 2;
        if (e->view.beats[middle].at + e->view.beats[middle].len > at)
            high = middle;
        else
            low = middle + 1;
    }
    return low;
}

static const struct us_beat_view *beat_at(const struct us_explain *e, double at)
{
    size_t i = beat_after(e, at + NEAR);
    return i < e->view.beat_count && e->view.beats[i].at < at + NEAR ? &e->view.beats[i] : NULL;
}

static bool phrase_ends(const struct us_explain *e, double from, double until)
{
    for (size_t i = beat_after(e, from); i < e->view.beat_count && e->view.beats[i].at < until - NEAR; i++)
        if (e->view.beats[i].phrase_end && e->view.beats[i].at > from - NEAR) return true;
    return false;
}

/* The chord written in the tune at a time, for which a primary triad was put; false where there is none. */
static bool was_written(const struct us_explain *e, double at, struct us_chord chord,
                        struct us_chord *written)
{
    const struct us_tune *tune = e->request->tune;
    struct us_key key = us_explain_key(e, at);
    for (size_t i = 0; e->simplified && i < tune->chord_count; i++) {
        const struct us_chord_span *span = &tune->chords[i];
        if (span->at > at + NEAR || span->at + span->len < at + NEAR) continue;
        *written = span->chord;
        return us_chord_equal(us_chord_primary(key, us_chord_role(span->chord, key)), chord);
    }
    return false;
}

static void say_who(struct telling *t, const struct us_chord_choice *c, double from)
{
    struct us_chord written;
    char symbol[NUMERAL_SIZE];
    if (!c->given) return;
    if (was_written(t->e, from, c->choice.chord, &written) && !us_chord_equal(written, c->choice.chord))
        say(t, US_CAUSE_SIMPLIFIED, "written %s, for which %s stands",
            us_chord_symbol(written, t->heard.key, symbol, sizeof symbol), t->name);
    else if (is_chosen(t->e->request, from) && !was_written(t->e, from, c->choice.chord, &written))
        say(t, US_CAUSE_CHOSEN, "you chose it");
    else
        say(t, US_CAUSE_WRITTEN, "written so in the tune");
}

/* Where in the tune the chord stands. */
static void say_place(struct telling *t, size_t index, double from, double until)
{
    const struct us_explain *e = t->e;
    const struct us_chord_choice *c = &e->chords[index];
    say_who(t, c, from);
    bool last = index + 1 == e->count && until > c->at + c->len - NEAR;
    if (index == 0 && from < c->at + NEAR && t->role == US_ROLE_I)
        say(t, US_CAUSE_START, "the tune starts at home, on %s", t->name);
    else if (last && t->role == US_ROLE_I)
        say(t, US_CAUSE_END, "the tune ends at home, on %s", t->name);
    else if (phrase_ends(e, from, until) && t->role == US_ROLE_I)
        say(t, US_CAUSE_CLOSE, "a phrase comes to its close on %s", t->name);
    else if (phrase_ends(e, from, until) && t->role == US_ROLE_V)
        say(t, US_CAUSE_HALF_CLOSE, "a half close: the phrase stops on %s and wants to go on", t->name);
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

static bool is_primary(const struct telling *t)
{
    return t->role != US_ROLE_NONE && us_chord_primary(t->heard.key, t->role).root == t->heard.chord.root;
}

/* Why this one of two that would do. */
static void say_why_this(struct telling *t, const enum us_role *others, size_t count)
{
    char other[NUMERAL_SIZE];
    if (!is_primary(t)) return;
    bool between = t->before == t->after && t->before != t->role;
    for (size_t i = 0; i < count && between; i++)
        if (others[i] == t->before) {
            say(t, US_CAUSE_MOVEMENT, "%s stands on both sides, so %s gives movement",
                numeral(t, t->before, other), t->name);
            return;
        }
    if (t->before == t->role)
        say(t, US_CAUSE_STAYS, "%s simply stays", t->name);
    else if (t->role == US_ROLE_V && t->after == US_ROLE_I)
        say(t, US_CAUSE_LEADS_HOME, "%s leads home to %s", t->name, numeral(t, US_ROLE_I, other));
    else if (t->role == US_ROLE_I && t->before == US_ROLE_V)
        say(t, US_CAUSE_COMES_HOME, "after %s it comes home", numeral(t, US_ROLE_V, other));
    else if (t->role == US_ROLE_IV && t->after == US_ROLE_V)
        say(t, US_CAUSE_PREPARES, "%s prepares %s", t->name, numeral(t, US_ROLE_V, other));
    else if (count > 0 && t->likelier)
        say(t, US_CAUSE_LIKELIER, "%s is the likelier here", t->name);
}

static void say_steps(struct telling *t)
{
    char steps[80], other[NUMERAL_SIZE], another[NUMERAL_SIZE];
    enum us_role others[US_ROLES];
    us_pcset tones = us_chord_tones(t->heard.chord);
    size_t count = rivals(t, others), inside = list_steps(t, tones, true, steps, sizeof steps);
    const char *are = inside > 1 ? "are" : "is";
    if (!t->heard.begins) {
        say(t, US_CAUSE_SILENT, "nothing new in the melody, %s sounds on", t->name);
    } else if (!us_heard_holds(&t->heard, tones)) {
        if (inside)
            say(t, 0, "%s %s in %s", steps, are, t->name);
        else
            say(t, 0, "none of the main steps is in %s", t->name);
        if (t->before == t->role || t->after != US_ROLE_NONE) say_why_this(t, others, 0);
    } else if (count == 0) {
        if (is_primary(t))
            say(t, US_CAUSE_ONLY, "%s %s%s in %s alone", steps, are, inside > 1 ? " together" : "", t->name);
        else
            say(t, 0, "%s %s in %s", steps, are, t->name);
    } else {
        numeral(t, others[0], other);
        if (count > 1)
            say(t, US_CAUSE_SHARED, "%s %s in %s, in %s and in %s", steps, are, t->name, other,
                numeral(t, others[1], another));
        else
            say(t, US_CAUSE_SHARED, "%s %s in %s and in %s", steps, are, t->name, other);
        say_why_this(t, others, count);
    }
}

static void say_run(struct telling *t)
{
    const struct heard *h = &t->heard;
    if (h->run_until <= h->run_from || t->role != US_ROLE_I) return;
    const struct us_note *notes = t->e->request->tune->notes;
    char first[16], last[16];
    bool down = notes[h->run_from].pitch > notes[h->run_until - 1].pitch;
    us_step_name(h->key, notes[h->run_from].pitch, t->e->names, first, sizeof first);
    us_step_name(h->key, notes[h->run_until - 1].pitch, t->e->names, last, sizeof last);
    say(t, US_CAUSE_RUN, "%s carries the run %s from %s to %s", t->name, down ? "down" : "up", first, last);
}

static bool peak_takes_iv(const struct heard *h)
{
    if (h->peak < 0) return false;
    struct us_step step = us_key_step(h->key, h->peak);
    return step.alter == 0 && (step.number == 6 || step.number == 4 || step.number == 1);
}

static void say_peak(struct telling *t)
{
    char step[16];
    if (t->role != US_ROLE_IV || !is_primary(t) || !peak_takes_iv(&t->heard)) return;
    us_step_name(t->heard.key, t->heard.peak, t->e->names, step, sizeof step);
    say(t, US_CAUSE_PEAK, "the line peaks on %s, which %s lifts", step, t->name);
}

/* The one note outside the chord that is heard most. */
static void say_passing(struct telling *t)
{
    const struct heard_note *most = NULL;
    for (size_t i = 0; i < t->heard.count; i++) {
        const struct heard_note *n = &t->heard.notes[i];
        if (n->role == NOTE_TONE || n->role == NOTE_FREE) continue;
        if (!most || n->weight > most->weight) most = n;
    }
    if (!most || (t->out->causes & US_CAUSE_RUN)) return;
    const struct us_tune *tune = t->e->request->tune;
    char here[16], before[16] = "", after[16] = "";
    us_step_name(t->heard.key, most->pitch, t->e->names, here, sizeof here);
    if (most->index > 0)
        us_step_name(t->heard.key, tune->notes[most->index - 1].pitch, t->e->names, before, sizeof before);
    if (most->index + 1 < tune->note_count)
        us_step_name(t->heard.key, tune->notes[most->index + 1].pitch, t->e->names, after, sizeof after);
    if (most->role == NOTE_PASSING)
        say(t, US_CAUSE_PASSING, "%s only passes from %s to %s", here, before, after);
    else if (most->role == NOTE_NEIGHBOUR)
        say(t, US_CAUSE_PASSING, "%s is only a neighbour of %s", here, after);
    else
        say(t, US_CAUSE_PASSING, "%s leans on %s", here, after);
}

static void say_repeat(struct telling *t, double from)
{
    const struct us_beat_view *beat = beat_at(t->e, from);
    if (!beat || beat->same_as < 0 || (size_t)beat->same_as >= t->e->view.beat_count) return;
    const struct us_beat_view *same = &t->e->view.beats[beat->same_as];
    if (same->position.bar == beat->position.bar || !us_chord_equal(same->chord, beat->chord)) return;
    say(t, US_CAUSE_REPEAT, "as in bar %d, where the melody is the same", same->position.bar + 1);
}

static void say_around(struct telling *t, double from, double until)
{
    double sum[US_ROLES] = {0};
    enum us_role best = US_ROLE_I;
    char other[NUMERAL_SIZE];
    for (size_t i = beat_after(t->e, from); i < t->e->view.beat_count; i++) {
        const struct us_beat_view *beat = &t->e->view.beats[i];
        if (beat->at > until - NEAR) break;
        if (beat->at < from - NEAR) continue;
        for (int r = 0; r < US_ROLES; r++)
            sum[r] += beat->melody[r] * beat->len;
    }
    for (enum us_role r = US_ROLE_I; r < US_ROLES; r++)
        if (sum[r] > sum[best]) best = r;
    if (t->role == US_ROLE_NONE || best == t->role || sum[best] < 1.3 * sum[t->role]) return;
    if (t->out->causes & (US_CAUSE_WRITTEN | US_CAUSE_CHOSEN | US_CAUSE_SIMPLIFIED)) return;
    say(t, US_CAUSE_AROUND, "the notes alone would take %s, what stands around them asks for %s",
        numeral(t, best, other), t->name);
}

static void say_stand_in(struct telling *t)
{
    struct us_chord primary = us_chord_primary(t->heard.key, t->role);
    char other[NUMERAL_SIZE];
    if (t->role == US_ROLE_NONE || primary.root == t->heard.chord.root) return;
    say(t, US_CAUSE_STAND_IN, "%s stands in for %s", t->name, numeral(t, t->role, other));
}

void us_explain_chord(const struct us_explain *e, size_t index, double from, double until,
                      struct us_reason *out)
{
    struct telling t;
    struct us_chord chord = e->chords[index].choice.chord;
    begin(&t, e, index, chord, from, until, out);
    if (chord.root == US_NO_CHORD || t.heard.key.tonic == US_NO_KEY) {
        say(&t, US_CAUSE_SILENT, "no key and so no chord yet");
        return;
    }
    say_place(&t, index, from, until);
    say_run(&t);
    say_steps(&t);
    say_stand_in(&t);
    say_peak(&t);
    say_passing(&t);
    say_repeat(&t, from);
    say_around(&t, from, until);
}

void us_explain_alternative(const struct us_explain *e, size_t index, size_t alternative, double from,
                            double until, struct us_reason *out)
{
    struct telling t;
    const struct us_chord_choice *c = &e->chords[index];
    struct us_chord chord = c->choice.alternative[alternative];
    begin(&t, e, index, chord, from, until, out);
    enum us_role chosen = role_of(e, index);
    us_pcset tones = us_chord_tones(chord);
    char steps[80], rest[80], other[NUMERAL_SIZE], step[16];
    size_t inside = list_steps(&t, tones, true, steps, sizeof steps);
    size_t outside = list_steps(&t, tones, false, rest, sizeof rest);
    const char *are = inside > 1 ? "are" : "is";
    if (peak_takes_iv(&t.heard) && t.role == US_ROLE_IV && us_pcset_has(tones, t.heard.peak))
        say(&t, US_CAUSE_PEAK, "%s would lift the peak on %s", t.name,
            us_step_name(t.heard.key, t.heard.peak, e->names, step, sizeof step));
    if (inside && !outside)
        say(&t, US_CAUSE_SHARED, "%s %s in %s too", steps, are, t.name);
    else if (inside)
        say(&t, 0, "%s %s in %s, %s not", steps, are, t.name, rest);
    else
        say(&t, 0, "none of the main steps is in %s", t.name);
    if (t.role == US_ROLE_I && t.heard.run_until > t.heard.run_from)
        say(&t, US_CAUSE_RUN, "%s may carry the run", t.name);
    say_stand_in(&t);
    if (t.before == t.role && t.role != US_ROLE_NONE)
        say(&t, US_CAUSE_STAYS, "%s could simply stay", t.name);
    else if (t.before == chosen && t.after == chosen)
        say(&t, US_CAUSE_MOVEMENT, "it would give movement between %s and %s", numeral(&t, t.before, other),
            other);
    else if (t.role == US_ROLE_V && t.after == US_ROLE_I)
        say(&t, US_CAUSE_LEADS_HOME, "it would lead home to %s", numeral(&t, US_ROLE_I, other));
}
