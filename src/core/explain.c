/* The words of an explanation.  Each clause is written only where its cause is there. */
#include "undersong/explain.h"

#include <stdio.h>
#include <string.h>

#include "explain_parts.h"

static const double NEAR = 1e-3;

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
    t->from = from;
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

/* The chord of a tune that is simplified, as it is written at a time; NULL where there is none. */
static const struct us_chord_span *written_at(const struct us_explain *e, double at)
{
    const struct us_tune *tune = e->request->tune;
    for (size_t i = 0; e->simplified && i < tune->chord_count; i++) {
        const struct us_chord_span *span = &tune->chords[i];
        if (span->at < at + NEAR && at + NEAR < span->at + span->len) return span;
    }
    return NULL;
}

/* The same, where a primary triad was put for it. */
static bool was_written(const struct us_explain *e, double at, struct us_chord chord,
                        struct us_chord *written)
{
    const struct us_chord_span *span = written_at(e, at);
    struct us_key key = us_explain_key(e, at);
    if (!span) return false;
    *written = span->chord;
    return us_chord_equal(us_chord_primary(key, us_chord_role(span->chord, key)), chord);
}

/* The same, where none could be put for it. */
static bool none_stands_for(const struct us_explain *e, double at, struct us_chord *written)
{
    const struct us_chord_span *span = written_at(e, at);
    if (!span || span->chord.root == US_NO_CHORD) return false;
    *written = span->chord;
    return us_chord_role(span->chord, us_explain_key(e, at)) == US_ROLE_NONE;
}

static void say_who(struct telling *t, const struct us_chord_choice *c, double from)
{
    struct us_chord written;
    char symbol[US_NUMERAL_SIZE];
    if (!c->given) {
        if (none_stands_for(t->e, from, &written))
            us_tell(t, US_CAUSE_SIMPLIFIED, "written %s, for which no primary triad stands",
                    us_chord_symbol(written, t->heard.key, symbol, sizeof symbol));
        return;
    }
    if (was_written(t->e, from, c->choice.chord, &written) && !us_chord_equal(written, c->choice.chord))
        us_tell(t, US_CAUSE_SIMPLIFIED, "written %s, for which %s stands",
                us_chord_symbol(written, t->heard.key, symbol, sizeof symbol), t->name);
    else if (is_chosen(t->e->request, from) && !was_written(t->e, from, c->choice.chord, &written))
        us_tell(t, US_CAUSE_CHOSEN, "you chose it");
    else
        us_tell(t, US_CAUSE_WRITTEN, "written so in the tune");
}

/* Where in the tune the chord stands. */
static void say_place(struct telling *t, size_t index, double from, double until)
{
    const struct us_explain *e = t->e;
    const struct us_chord_choice *c = &e->chords[index];
    say_who(t, c, from);
    bool last = index + 1 == e->count && until > c->at + c->len - NEAR;
    if (index == 0 && from < c->at + NEAR && t->role == US_ROLE_I)
        us_tell(t, US_CAUSE_START, "the tune starts at home, on %s", t->name);
    else if (last && t->role == US_ROLE_I)
        us_tell(t, US_CAUSE_END, "the tune ends at home, on %s", t->name);
    else if (phrase_ends(e, from, until) && t->role == US_ROLE_I)
        us_tell(t, US_CAUSE_CLOSE, "a phrase comes to its close on %s", t->name);
    else if (phrase_ends(e, from, until) && t->role == US_ROLE_V)
        us_tell(t, US_CAUSE_HALF_CLOSE, "a half close: the phrase stops on %s and wants to go on", t->name);
}

/* No note begins here: the chord before sounds on, or another one begins under what is held. */
static bool say_held(struct telling *t, size_t index, double from)
{
    const struct us_chord_choice *c = &t->e->chords[index];
    if (t->heard.begins) return false;
    bool on = from > c->at + NEAR ||
              (index > 0 && us_chord_equal(c->choice.chord, t->e->chords[index - 1].choice.chord));
    if (on)
        us_tell(t, US_CAUSE_SILENT, "nothing new in the melody, %s sounds on", t->name);
    else if (t->heard.main_count)
        us_tell(t, US_CAUSE_SILENT, "the melody holds its note");
    return on;
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
    us_tell(t, US_CAUSE_RUN, "%s carries the run %s from %s to %s", t->name, down ? "down" : "up", first,
            last);
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
    if (t->role != US_ROLE_IV || !us_tells_primary(t) || !peak_takes_iv(&t->heard)) return;
    us_step_name(t->heard.key, t->heard.peak, t->e->names, step, sizeof step);
    us_tell(t, US_CAUSE_PEAK, "the line peaks on %s, which %s lifts", step, t->name);
}

/* The one note outside the chord that is heard most. */
static void say_passing(struct telling *t)
{
    const struct heard_note *most = NULL;
    for (size_t i = 0; i < t->heard.count; i++) {
        const struct heard_note *n = &t->heard.notes[i];
        if (n->role == NOTE_TONE || n->role == NOTE_FREE) continue;
        if (t->out->causes & US_CAUSE_SEVENTH && n->pitch == t->heard.main[0]) continue;
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
        us_tell(t, US_CAUSE_PASSING, "%s only passes from %s to %s", here, before, after);
    else if (most->role == NOTE_NEIGHBOUR)
        us_tell(t, US_CAUSE_PASSING, "%s is only a neighbour of %s", here, after);
    else if (most->role == NOTE_LEADING)
        us_tell(t, US_CAUSE_PASSING, "%s only leads to %s", here, after);
    else
        us_tell(t, US_CAUSE_PASSING, "%s leans on %s", here, after);
}

static void say_repeat(struct telling *t, double from)
{
    const struct us_beat_view *beat = beat_at(t->e, from);
    if (!beat || beat->same_as < 0 || (size_t)beat->same_as >= t->e->view.beat_count) return;
    const struct us_beat_view *same = &t->e->view.beats[beat->same_as];
    if (same->position.bar == beat->position.bar || !us_chord_equal(same->chord, beat->chord)) return;
    char place[24] = "the pickup";
    if (same->position.bar >= 0) snprintf(place, sizeof place, "bar %d", same->position.bar + 1);
    us_tell(t, US_CAUSE_REPEAT, "as in %s, where the melody is the same", place);
}

static void say_around(struct telling *t, double from, double until)
{
    double sum[US_ROLES] = {0};
    enum us_role best = US_ROLE_I;
    char other[US_NUMERAL_SIZE];
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
    us_tell(t, US_CAUSE_AROUND, "the notes alone would take %s, what stands around them asks for %s",
            us_tell_numeral(t, best, other), t->name);
}

static void say_stand_in(struct telling *t)
{
    struct us_chord primary = us_chord_primary(t->heard.key, t->role);
    char other[US_NUMERAL_SIZE];
    if (t->role == US_ROLE_NONE || primary.root == t->heard.chord.root) return;
    us_tell(t, US_CAUSE_STAND_IN, "%s stands in for %s", t->name, us_tell_numeral(t, t->role, other));
}

void us_explain_chord(const struct us_explain *e, size_t index, double from, double until,
                      struct us_reason *out)
{
    struct telling t;
    struct us_chord chord = e->chords[index].choice.chord;
    begin(&t, e, index, chord, from, until, out);
    if (chord.root == US_NO_CHORD || t.heard.key.tonic == US_NO_KEY) {
        us_tell(&t, US_CAUSE_SILENT, "no key and so no chord yet");
        return;
    }
    say_place(&t, index, from, until);
    say_run(&t);
    if (!say_held(&t, index, from)) us_tell_steps(&t);
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
    char other[US_NUMERAL_SIZE], step[16];
    if (peak_takes_iv(&t.heard) && t.role == US_ROLE_IV && us_pcset_has(tones, t.heard.peak))
        us_tell(&t, US_CAUSE_PEAK, "%s would lift the peak on %s", t.name,
                us_step_name(t.heard.key, t.heard.peak, e->names, step, sizeof step));
    us_tell_what_it_holds(&t, c->choice.chord);
    if (t.role == US_ROLE_I && t.heard.run_until > t.heard.run_from)
        us_tell(&t, US_CAUSE_RUN, "%s may carry the run", t.name);
    say_stand_in(&t);
    if (t.before == t.role && t.role != US_ROLE_NONE)
        us_tell(&t, US_CAUSE_STAYS, "%s could simply stay", t.name);
    else if (t.before == chosen && t.after == chosen && chosen != US_ROLE_NONE)
        us_tell(&t, US_CAUSE_MOVEMENT, "%s stands on both sides, so %s would give movement",
                us_tell_numeral(&t, t.before, other), t.name);
    else if (t.role == US_ROLE_V && t.after == US_ROLE_I)
        us_tell(&t, US_CAUSE_LEADS_HOME, "it would lead home to %s", us_tell_numeral(&t, US_ROLE_I, other));
}
