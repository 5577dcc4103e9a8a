#include "undersong/share.h"

#include <stdlib.h>
#include <string.h>

static const int64_t EARLY_NS = 150000000;
static const double GAINED = 0.05, LOST_WRONG = 0.2, LOST_MISSED = 0.1, LOST_DROPPED = 0.25;

void us_share_init(struct us_share *s, int level)
{
    memset(s, 0, sizeof *s);
    s->automatic = level == US_SHARE_AUTO;
    s->level = s->automatic ? 100 : level;
    s->expected.chord.root = s->passing.root = s->of_bar.root = US_NO_CHORD;
    for (int i = 0; i < US_SHARE_RECENT; i++)
        s->at_ns[i] = INT64_MIN;
}

bool us_share_listens(const struct us_share *s)
{
    return s->automatic || s->level < 100;
}

static void trust(struct us_share *s, double change)
{
    if (!s->automatic) return;
    s->trust += change;
    if (s->trust < 0) s->trust = 0;
    if (s->trust > 1) s->trust = 1;
    s->level = (int)(100 * (1 - s->trust) + 0.5);
}

static void put_down(uint64_t down[2], int pitch)
{
    down[pitch / 64] |= UINT64_C(1) << pitch % 64;
}

static bool any_down(const struct us_share *s)
{
    return s->down[0] || s->down[1];
}

/* A note of the passing chord that the longer one does not have. */
static bool only_passing(const struct us_share *s, int pitch_class)
{
    return s->passing.root != US_NO_CHORD && us_pcset_has(us_chord_tones(s->passing), pitch_class) &&
           !us_pcset_has(us_chord_tones(s->expected.chord), pitch_class);
}

void us_share_note_on(struct us_share *s, int64_t at_ns, int pitch)
{
    if (!only_passing(s, us_pitch_class(pitch))) s->heard |= (us_pcset)(1u << us_pitch_class(pitch));
    s->at_ns[s->next % US_SHARE_RECENT] = at_ns;
    s->pitch[s->next++ % US_SHARE_RECENT] = (uint8_t)pitch;
    s->plays = s->in_bar = true;
    put_down(s->down, pitch);
}

void us_share_note_off(struct us_share *s, int pitch)
{
    s->down[pitch / 64] &= ~(UINT64_C(1) << pitch % 64);
}

static bool is_early(const struct us_share *s, int recent, int64_t at_ns)
{
    return s->at_ns[recent] != INT64_MIN && at_ns - s->at_ns[recent] <= EARLY_NS;
}

/* Takes the notes that came a little early for the coming chord out of the one that is over. */
static us_pcset take_early(struct us_share *s, int64_t at_ns)
{
    us_pcset early = 0, late = 0;
    for (int i = 0; i < US_SHARE_RECENT; i++) {
        us_pcset note = (us_pcset)(1u << us_pitch_class(s->pitch[i]));
        if (s->at_ns[i] == INT64_MIN) continue;
        *(is_early(s, i, at_ns) ? &early : &late) |= note;
    }
    s->heard &= (us_pcset) ~(early & ~late);
    return early;
}

static void learn(struct us_share *s)
{
    double *got = &s->got[s->role];
    switch (s->last.fit) {
    case US_FIT_YES:
    case US_FIT_ALSO:
        *got = *got < 0.5 ? 0.5 : 1;
        trust(s, GAINED);
        break;
    case US_FIT_NO:
        *got = 0;
        trust(s, -LOST_WRONG);
        break;
    case US_FIT_SILENT:
        if (!s->plays || any_down(s)) break;
        *got = 0;
        trust(s, -LOST_MISSED);
        break;
    default: break;
    }
}

/* At a bar line: a whole bar without a note means that the learner has dropped out. */
static void end_bar(struct us_share *s, us_pcset early)
{
    if (s->plays && !s->in_bar && !any_down(s) && !early) {
        s->plays = false;
        trust(s, -LOST_DROPPED);
    }
    s->in_bar = early != 0;
}

/* What goes on within the bar need not tell its chord again, and a chord that is held on over a change in
   mid-bar would do. */
static void allow_for_bar(struct us_share *s)
{
    struct us_verdict *v = &s->last;
    bool of_bar = s->of_bar.root != US_NO_CHORD && !(s->heard & (us_pcset)~us_chord_tones(s->of_bar));
    if (!of_bar || (v->fit != US_FIT_NO && v->fit != US_FIT_THIN)) return;
    if (us_chord_equal(s->of_bar, v->expected) && s->mid_bar) {
        v->fit = US_FIT_YES;
    } else if (!us_chord_equal(s->of_bar, v->expected)) {
        v->fit = US_FIT_ALSO;
        v->as = s->of_bar;
        v->wrong = 0;
    }
}

bool us_share_expect(struct us_share *s, int64_t at_ns, const struct us_choice *choice, enum us_role role,
                     bool on_bar)
{
    us_pcset early = take_early(s, at_ns);
    bool judged = false;
    if (s->expects) {
        us_share_judge(s->heard, &s->expected, &s->last);
        allow_for_bar(s);
        learn(s);
        judged = s->last.fit != US_FIT_SILENT;
    }
    if (on_bar) end_bar(s, early);
    for (int i = 0; i < US_SHARE_RECENT; i++)
        if (s->at_ns[i] < at_ns - EARLY_NS || !early) s->at_ns[i] = INT64_MIN;
    s->mid_bar = !on_bar;
    if (on_bar) s->of_bar = choice->chord;
    s->expected = *choice;
    s->passing.root = US_NO_CHORD;
    s->role = role;
    s->expects = choice->chord.root != US_NO_CHORD;
    s->heard = early;
    return judged;
}

enum us_part us_share_part(const struct us_share *s)
{
    if (!us_share_listens(s)) return US_PART_ALL;
    if (s->level <= 0) return US_PART_NOTHING;
    if (s->level <= 33) return s->got[s->role] < 1 ? US_PART_ROOT : US_PART_NOTHING;
    if (s->plays) return US_PART_NOTHING;
    return s->level <= 66 ? US_PART_ROOT : US_PART_ALL;
}

void us_share_pass(struct us_share *s, int64_t at_ns, struct us_chord chord)
{
    s->passing = chord;
    for (int i = 0; i < US_SHARE_RECENT; i++) {
        int pitch_class = us_pitch_class(s->pitch[i]);
        if (is_early(s, i, at_ns) && only_passing(s, pitch_class))
            s->heard &= (us_pcset) ~(1u << pitch_class);
    }
}

void us_share_rest(struct us_share *s, int64_t at_ns)
{
    uint64_t struck[2] = {0, 0};
    for (int i = 0; i < US_SHARE_RECENT; i++)
        if (is_early(s, i, at_ns)) put_down(struck, s->pitch[i]);
    for (int i = 0; i < 2; i++)
        s->down[i] &= struck[i];
    s->heard = take_early(s, at_ns);
    s->plays = s->in_bar = s->heard != 0;
    s->expects = false;
    s->passing.root = s->of_bar.root = US_NO_CHORD;
    for (int i = 0; i < US_SHARE_RECENT; i++)
        if (!s->heard) s->at_ns[i] = INT64_MIN;
}

bool us_share_parse(const char *text, int *level)
{
    if (strcmp(text, "auto") == 0) {
        *level = US_SHARE_AUTO;
        return true;
    }
    char *end;
    if (*text < '0' || *text > '9') return false;
    long value = strtol(text, &end, 10);
    if (*end || value > 100) return false;
    *level = (int)value;
    return true;
}
