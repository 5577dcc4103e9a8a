#include "support.h"

#include "../src/core/harmony_live_parts.h"
#include "undersong/harmony.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { NOTES_MAX = 96 };
static const int STEP_SEMITONES[8] = {0, 0, 2, 4, 5, 7, 9, 11};

/* A tune of quarters in 4/4: steps 1 to 7, an apostrophe after a step for the octave above. */
struct sung {
    struct us_note notes[NOTES_MAX];
    struct us_tune tune;
    struct us_harmony_request request;
    struct us_chord_choice chords[NOTES_MAX];
    size_t count;
    struct us_harmony_view view;
    void *workspace;
};

static void sing(struct sung *s, const char *steps, int home, enum us_chords chords, enum us_change change)
{
    size_t n = 0;
    memset(s, 0, sizeof *s);
    for (; *steps; steps++) {
        if (*steps == ' ') continue;
        if (*steps == '\'')
            s->notes[n - 1].pitch += 12;
        else {
            s->notes[n] = (struct us_note){(double)n, 1, (int16_t)(home + STEP_SEMITONES[*steps - '0']), 80};
            n++;
        }
    }
    s->tune = (struct us_tune){.notes = s->notes, .note_count = n, .title = ""};
    s->request = (struct us_harmony_request){.key = {(int8_t)us_pitch_class(home), US_MODE_MAJOR},
                                             .metre = {4, 4},
                                             .chords = chords,
                                             .change = change};
}

static void judge(struct sung *s)
{
    s->request.tune = &s->tune;
    s->workspace = malloc(us_harmony_workspace_size(&s->request));
    s->count = us_harmony_tune(&s->request, s->workspace, s->chords, NOTES_MAX, &s->view);
}

static void leave(struct sung *s)
{
    free(s->workspace);
}

static enum us_role role_at(const struct sung *s, size_t beat)
{
    return us_chord_role(s->view.beats[beat].chord, s->request.key);
}

static const char UP[] = "1234 5671'", DOWN[] = "1'765 4321",
                  TUNE[] = "1353 4642 5752 1351 1353 4642 5772 1111";

START_TEST(harmony_transposed_tune_gets_transposed_chords)
{
    struct sung home, away;
    sing(&home, TUNE, 60, US_CHORDS_WIDE, US_CHANGE_AUTO);
    judge(&home);
    for (int shift = -5; shift <= 6; shift++) {
        sing(&away, TUNE, 60 + shift, US_CHORDS_WIDE, US_CHANGE_AUTO);
        judge(&away);
        ck_assert_uint_eq(away.count, home.count);
        for (size_t i = 0; i < home.count; i++) {
            const struct us_choice *a = &away.chords[i].choice, *b = &home.chords[i].choice;
            ck_assert_int_eq(a->chord.root, us_pitch_class(b->chord.root + shift));
            ck_assert_int_eq(a->chord.kind, b->chord.kind);
            ck_assert_double_eq_tol(a->probability, b->probability, 1e-5);
        }
        leave(&away);
    }
    leave(&home);
}
END_TEST

START_TEST(harmony_same_tune_gets_the_same_bytes)
{
    struct sung a, b;
    sing(&a, TUNE, 62, US_CHORDS_PRIMARY, US_CHANGE_AUTO);
    sing(&b, TUNE, 62, US_CHORDS_PRIMARY, US_CHANGE_AUTO);
    judge(&a);
    judge(&b);
    ck_assert_uint_eq(a.count, b.count);
    for (size_t i = 0; i < a.count; i++) {
        ck_assert(us_chord_equal(a.chords[i].choice.chord, b.chords[i].choice.chord));
        ck_assert_double_eq(a.chords[i].choice.probability, b.chords[i].choice.probability);
    }
    leave(&a);
    leave(&b);
}
END_TEST

START_TEST(harmony_covers_the_tune_and_its_probabilities_add_up)
{
    for (int chords = US_CHORDS_I; chords <= US_CHORDS_WIDE; chords++) {
        struct sung s;
        double at = 0;
        sing(&s, TUNE, 67, (enum us_chords)chords, US_CHANGE_AUTO);
        judge(&s);
        ck_assert_uint_eq(us_harmony_beats(&s.request), 32);
        for (size_t i = 0; i < s.count; i++) {
            const struct us_choice *c = &s.chords[i].choice;
            double sum = c->probability, before = c->probability;
            ck_assert_double_eq(s.chords[i].at, at);
            at += s.chords[i].len;
            for (int k = 0; k < c->alternatives; k++) {
                ck_assert(c->alternative_probability[k] <= before);
                sum += before = c->alternative_probability[k];
                ck_assert(!us_chord_equal(c->alternative[k], c->chord));
            }
            ck_assert(sum > 0 && sum <= 1 + 1e-6);
        }
        ck_assert_double_eq(at, 32);
        for (size_t t = 0; t < s.view.beat_count; t++) {
            const double *r = s.view.beats[t].role;
            ck_assert_double_eq_tol(r[US_ROLE_I] + r[US_ROLE_IV] + r[US_ROLE_V], 1, 1e-6);
        }
        leave(&s);
    }
}
END_TEST

START_TEST(harmony_changes_only_where_it_may)
{
    static const struct {
        enum us_change change;
        double every;
    } ROWS[] = {{US_CHANGE_BAR, 4}, {US_CHANGE_HALF, 2}, {US_CHANGE_BEAT, 1}};
    for (size_t row = 0; row < sizeof ROWS / sizeof *ROWS; row++)
        for (int chords = US_CHORDS_PRIMARY; chords <= US_CHORDS_WIDE; chords++) {
            struct sung s;
            sing(&s, TUNE, 60, (enum us_chords)chords, ROWS[row].change);
            judge(&s);
            ck_assert_uint_gt(s.count, 1);
            for (size_t i = 0; i < s.count; i++)
                ck_assert_double_eq(fmod(s.chords[i].at, ROWS[row].every), 0);
            leave(&s);
        }
}
END_TEST

static bool in_vocabulary(struct us_chord chord, struct us_key key, enum us_chords chords)
{
    for (int r = US_ROLE_I; r <= (chords == US_CHORDS_I ? US_ROLE_I : US_ROLE_V); r++)
        if (us_chord_equal(chord, us_chord_primary(key, (enum us_role)r))) return true;
    if (chords != US_CHORDS_WIDE) return false;
    char numeral[12];
    us_chord_numeral(chord, key, numeral, sizeof numeral);
    static const char *const WIDE[] = {"ii", "iii", "vi", "viio", "V7", "iio", "III", "VI", "VII", "vii"};
    for (size_t i = 0; i < sizeof WIDE / sizeof *WIDE; i++)
        if (strcmp(numeral, WIDE[i]) == 0) return true;
    return strncmp(numeral, "V/", 2) == 0 || strncmp(numeral, "V7/", 3) == 0;
}

START_TEST(harmony_keeps_to_its_vocabulary)
{
    static const char *const TUNES[] = {TUNE, UP, DOWN, "6543 2176 5656 7117 4444 6666 3333 2222",
                                        "2626 4141 7373 6161"};
    for (int mode = US_MODE_MAJOR; mode <= US_MODE_MINOR; mode++)
        for (int chords = US_CHORDS_I; chords <= US_CHORDS_WIDE; chords++)
            for (size_t t = 0; t < sizeof TUNES / sizeof *TUNES; t++) {
                struct sung s;
                sing(&s, TUNES[t], 60, (enum us_chords)chords, US_CHANGE_BEAT);
                s.request.key.mode = (uint8_t)mode;
                judge(&s);
                for (size_t i = 0; i < s.count; i++) {
                    const struct us_choice *c = &s.chords[i].choice;
                    ck_assert(in_vocabulary(c->chord, s.request.key, (enum us_chords)chords));
                    for (int k = 0; k < c->alternatives; k++)
                        ck_assert(in_vocabulary(c->alternative[k], s.request.key, (enum us_chords)chords));
                }
                leave(&s);
            }
}
END_TEST

START_TEST(harmony_given_chords_win_and_the_rest_adapts)
{
    struct us_chord c = {0, US_CHORD_MAJ}, f = {5, US_CHORD_MAJ}, d7 = {2, US_CHORD_DOM7};
    const struct us_chord_span written[] = {{4, 4, d7}, {12, 4, c}}, chosen[] = {{12, 2, f}};
    struct sung free_of, s;
    sing(&free_of, TUNE, 60, US_CHORDS_PRIMARY, US_CHANGE_AUTO);
    judge(&free_of);
    sing(&s, TUNE, 60, US_CHORDS_PRIMARY, US_CHANGE_AUTO);
    s.tune.chords = written;
    s.tune.chord_count = 2;
    s.request.fixed = chosen;
    s.request.fixed_count = 1;
    judge(&s);
    for (size_t t = 4; t < 8; t++)
        ck_assert(us_chord_equal(s.view.beats[t].chord, d7));
    for (size_t t = 12; t < 16; t++)
        ck_assert(us_chord_equal(s.view.beats[t].chord, t < 14 ? f : c));
    bool moved = false;
    for (size_t t = 16; t < 20; t++)
        moved |= fabs(s.view.beats[t].role[US_ROLE_I] - free_of.view.beats[t].role[US_ROLE_I]) > 1e-9;
    ck_assert(moved);
    for (size_t i = 0; i < s.count; i++)
        ck_assert(s.chords[i].given == (s.chords[i].at == 4 || s.chords[i].at == 12 || s.chords[i].at == 14));
    leave(&free_of);
    leave(&s);
}
END_TEST

/* A seventh chord that was chosen goes on as one; its triad would be another chord for the hand. */
START_TEST(harmony_chosen_seventh_goes_on)
{
    struct us_chord v7 = {7, US_CHORD_DOM7}, v = {7, US_CHORD_MAJ};
    const struct us_chord_span chosen[] = {{8, 1, v7}};
    struct sung free_of, s;
    sing(&free_of, TUNE, 60, US_CHORDS_PRIMARY, US_CHANGE_AUTO);
    judge(&free_of);
    sing(&s, TUNE, 60, US_CHORDS_PRIMARY, US_CHANGE_AUTO);
    s.request.fixed = chosen;
    s.request.fixed_count = 1;
    judge(&s);
    ck_assert(us_chord_equal(free_of.view.beats[9].chord, v));
    ck_assert(us_chord_equal(s.view.beats[8].chord, v7));
    ck_assert(us_chord_equal(s.view.beats[9].chord, v7));
    ck_assert(us_chord_equal(s.view.beats[24].chord, free_of.view.beats[24].chord));
    for (size_t i = 0, t = 0; i < s.count; i++) {
        while (s.view.beats[t].at < s.chords[i].at)
            t++;
        ck_assert_msg(us_chord_equal(s.chords[i].choice.chord, s.view.beats[t].chord), "beat %zu", t);
    }
    leave(&free_of);
    leave(&s);
}
END_TEST

/* The same melody has the same chords to the bar in which it goes another way. */
START_TEST(harmony_same_melody_same_chords)
{
    struct sung s;
    sing(&s, "1353 4642 5752 1351 1353 4642 1234 5671'", 60, US_CHORDS_PRIMARY, US_CHANGE_AUTO);
    judge(&s);
    for (size_t t = 0; t < 8; t++) {
        ck_assert_int_eq(s.view.beats[16 + t].same_as, (int)t);
        /* The last beat leads elsewhere, and may ask for it. */
        if (t < 7) ck_assert(us_chord_equal(s.view.beats[16 + t].chord, s.view.beats[t].chord));
    }
    ck_assert_int_eq(s.view.beats[24].same_as, -1);
    leave(&s);
}
END_TEST

/* Common practice, no source: a tune starts and ends at home; the leading note that rises home takes V. */
START_TEST(harmony_starts_and_ends_at_home)
{
    static const char *const TUNES[] = {TUNE, UP, DOWN, "1123 2217 1234 5671'"};
    for (size_t t = 0; t < sizeof TUNES / sizeof *TUNES; t++) {
        struct sung s;
        sing(&s, TUNES[t], 65, US_CHORDS_PRIMARY, US_CHANGE_BEAT);
        judge(&s);
        ck_assert_int_eq(role_at(&s, 0), US_ROLE_I);
        ck_assert_int_eq(role_at(&s, s.view.beat_count - 1), US_ROLE_I);
        leave(&s);
    }
}
END_TEST

/* The ascending and descending scale with primary triads, common practice, no source: each note takes a triad
   that holds it (the dominant's seventh, step 4, counts with V), the leading note V; in the descending scale
   I may also stay under passing notes. */
START_TEST(harmony_scales_with_primary_triads)
{
    static const char *const MAY[8] = {"", "I IV", "V", "I", "IV V", "I V", "IV", "V"};
    const char *const scales[] = {"1111 2222 3333 4444 5555 6666 7777 1'1'1'1'",
                                  "1'1'1'1' 7777 6666 5555 4444 3333 2222 1111"};
    for (size_t k = 0; k < 2; k++) {
        struct sung s;
        sing(&s, scales[k], 60, US_CHORDS_PRIMARY, US_CHANGE_BAR);
        judge(&s);
        for (size_t bar = 0; bar < 8; bar++) {
            int step = k ? (bar ? 8 - (int)bar : 1) : bar < 7 ? (int)bar + 1 : 1;
            const char *role = us_role_name(role_at(&s, bar * 4)), *found = strstr(MAY[step], role);
            size_t n = strlen(role);
            bool whole =
                found && (found[n] == 0 || found[n] == ' ') && (found == MAY[step] || found[-1] == ' ');
            bool stays = k == 1 && strcmp(role, "I") == 0 && step != 7;
            ck_assert_msg(whole || stays, "scale %zu, step %d: %s", k, step, role);
        }
        leave(&s);
    }
}
END_TEST

/* Of two keys that the steps leave equally likely, the one in which the chords are clear; and no more than
   doubt where there is none. */
START_TEST(harmony_key_by_its_chords)
{
    struct sung s;
    const struct us_key c = {0, US_MODE_MAJOR}, f_sharp = {6, US_MODE_MAJOR},
                        none = {US_NO_KEY, US_MODE_MAJOR};
    struct us_key_candidate both[2] = {{f_sharp, 0}, {c, 0}};
    double sure;
    sing(&s, TUNE, 60, US_CHORDS_WIDE, US_CHANGE_AUTO);
    judge(&s);
    ck_assert(us_key_equal(us_harmony_key(&s.request, both, 2, s.workspace, &sure), c));
    ck_assert(sure > 0.5 && sure <= 1);
    both[1].log_weight = -100;
    ck_assert(us_key_equal(us_harmony_key(&s.request, both, 2, s.workspace, &sure), f_sharp));
    ck_assert(us_key_equal(us_harmony_key(&s.request, both + 1, 1, s.workspace, &sure), c));
    ck_assert_double_eq(sure, 1);
    ck_assert_int_eq(us_harmony_key(&s.request, both, 0, s.workspace, &sure).tonic, none.tonic);
    leave(&s);
}
END_TEST

/* ---- how often chords change.  Common practice, no source: a dance keeps a chord for the bar, a hymn
   changes it with nearly each note. */

/* Eighths in 6/8: each bar is one broken triad with passing notes. */
static const char JIG[] = "135 531 134 717 146 641 572 275 353 531 146 641 275 766 135 111";

static void sing_jig(struct sung *s, enum us_change change)
{
    sing(s, JIG, 60, US_CHORDS_PRIMARY, change);
    s->request.metre = (struct us_metre){6, 8};
    for (size_t i = 0; i < s->tune.note_count; i++) {
        s->notes[i].at /= 2;
        s->notes[i].len /= 2;
    }
}

START_TEST(harmony_finds_how_often_chords_change)
{
    static const char HYMN[] = "1176 5123 4321 2345 6543 4217 1653 2111";
    struct sung jig, hymn;
    sing_jig(&jig, US_CHANGE_AUTO);
    judge(&jig);
    ck_assert_int_eq(jig.view.change, US_CHANGE_BAR);
    sing(&hymn, HYMN, 60, US_CHORDS_PRIMARY, US_CHANGE_AUTO);
    judge(&hymn);
    ck_assert_int_eq(hymn.view.change, US_CHANGE_BEAT);
    ck_assert(jig.view.change_probability > 0.34 && jig.view.change_probability <= 1);
    double often = (double)jig.count / (double)jig.view.beat_count;
    ck_assert_double_lt(often, (double)hymn.count / (double)hymn.view.beat_count);
    leave(&jig);
    leave(&hymn);
    sing_jig(&jig, US_CHANGE_HALF);
    judge(&jig);
    ck_assert_int_eq(jig.view.change, US_CHANGE_HALF); /* as asked for */
    ck_assert_double_eq(jig.view.change_probability, 1);
    leave(&jig);
}
END_TEST

/* Where the rate is the bar's, a chord seldom begins inside one. */
START_TEST(harmony_lets_passing_notes_go)
{
    size_t inside[2] = {0, 0};
    for (int k = 0; k < 2; k++) {
        struct sung s;
        sing_jig(&s, k ? US_CHANGE_BEAT : US_CHANGE_AUTO);
        judge(&s);
        for (size_t i = 0; i < s.count; i++)
            inside[k] += fmod(s.chords[i].at, 3) > 1e-3;
        leave(&s);
    }
    ck_assert_msg(inside[0] < inside[1], "%zu, by the beat %zu", inside[0], inside[1]);
}
END_TEST

/* ---- live */
static void play_bars(struct us_harmony_live *h, const char *steps, int home, struct us_choice *out)
{
    int n = 0;
    struct us_key key = {(int8_t)us_pitch_class(home), US_MODE_MAJOR};
    for (; *steps; steps++) {
        if (*steps < '1' || *steps > '7') continue;
        int pitch = home + STEP_SEMITONES[*steps - '0'] + (steps[1] == '\'' ? 12 : 0);
        struct us_position at = {{4, 4}, n / 4, n % 4, n % 4 == 0, true};
        us_harmony_live_note(h, key, &at, pitch);
        us_harmony_live_decide(h, key, &at, &out[n]);
        n++;
    }
}

START_TEST(harmony_live_transposes_and_keeps_its_probabilities)
{
    static struct us_harmony_live h;
    struct us_choice home[NOTES_MAX], away[NOTES_MAX];
    us_harmony_live_init(&h, NULL, US_CHORDS_PRIMARY, US_CHANGE_AUTO);
    play_bars(&h, TUNE, 60, home);
    for (int shift = -5; shift <= 6; shift++) {
        us_harmony_live_init(&h, NULL, US_CHORDS_PRIMARY, US_CHANGE_AUTO);
        play_bars(&h, TUNE, 60 + shift, away);
        for (int i = 0; i < 32; i++) {
            ck_assert_int_eq(away[i].chord.root, us_pitch_class(home[i].chord.root + shift));
            ck_assert_double_eq_tol(away[i].probability, home[i].probability, 1e-4);
            ck_assert_double_eq_tol(home[i].role[1] + home[i].role[2] + home[i].role[3], 1, 1e-5);
        }
    }
    ck_assert_int_eq(home[0].chord.root, 0);
    ck_assert_int_eq(home[31].chord.root, 0);
}
END_TEST

START_TEST(harmony_live_changes_only_at_bar_lines_when_told_so)
{
    static struct us_harmony_live h;
    struct us_choice out[NOTES_MAX];
    int changes = 0;
    us_harmony_live_init(&h, NULL, US_CHORDS_PRIMARY, US_CHANGE_BAR);
    play_bars(&h, TUNE, 60, out);
    for (int i = 1; i < 32; i++) {
        bool changed = !us_chord_equal(out[i].chord, out[i - 1].chord);
        changes += changed;
        ck_assert(!changed || i % 4 == 0);
    }
    ck_assert_int_gt(changes, 2);
}
END_TEST

/* Whatever comes, the rate is found anew only on a bar line, and there only after a long note or after eight
   bars. */
START_TEST(harmony_live_keeps_its_rate_inside_a_phrase)
{
    static struct us_harmony_live h;
    uint32_t x = 7;
    int moved = 0;
    const struct us_key key = {0, US_MODE_MAJOR};
    us_harmony_live_init(&h, NULL, US_CHORDS_PRIMARY, US_CHANGE_AUTO);
    for (int beat = 0, sounded = -1, last = 0, since = 0; beat < 2000; beat++) {
        x = x * 1664525u + 1013904223u;
        struct us_position at = {{4, 4}, beat / 4, beat % 4, beat % 4 == 0, true};
        struct us_choice out;
        uint8_t before = h.rate;
        bool busy = beat / 64 % 2; /* long stretches of one kind and of the other */
        if (busy ? x >> 9 & 3 : x >> 9 & 7) {
            if (sounded >= 0 && beat - sounded > 1) last = beat;
            us_harmony_live_note(&h, key, &at, 60 + STEP_SEMITONES[1 + (x >> 16) % 7]);
            sounded = beat;
        }
        us_harmony_live_decide(&h, key, &at, &out);
        ck_assert_int_ne(h.rate, US_CHANGE_AUTO);
        if (beat && h.rate != before) {
            moved++;
            ck_assert_int_eq(beat % 4, 0);
            ck_assert_msg(last > since || beat - since >= 32, "moved at beat %d, long note ended %d", beat,
                          last);
        }
        since = h.rate_bar * 4;
    }
    ck_assert_int_gt(moved, 0);
}
END_TEST

START_TEST(harmony_live_has_no_chord_without_a_key)
{
    static struct us_harmony_live h;
    struct us_position at = {{4, 4}, 0, 0, true, true};
    struct us_choice out;
    us_harmony_live_init(&h, NULL, US_CHORDS_PRIMARY, US_CHANGE_AUTO);
    us_harmony_live_note(&h, (struct us_key){US_NO_KEY, US_MODE_MAJOR}, &at, 60);
    us_harmony_live_decide(&h, (struct us_key){US_NO_KEY, US_MODE_MAJOR}, &at, &out);
    ck_assert_int_eq(out.chord.root, US_NO_CHORD);
    us_harmony_live_decide(&h, (struct us_key){0, US_MODE_MAJOR}, &at, &out);
    ck_assert_int_eq(out.chord.root, 0);
}
END_TEST

/* A key that is found late makes the chords those of a key that was known from the start. */
START_TEST(harmony_live_hears_again_when_the_key_is_revised)
{
    static struct us_harmony_live sure, late;
    struct us_choice known[NOTES_MAX], out = {0};
    us_harmony_live_init(&sure, NULL, US_CHORDS_PRIMARY, US_CHANGE_AUTO);
    us_harmony_live_init(&late, NULL, US_CHORDS_PRIMARY, US_CHANGE_AUTO);
    play_bars(&sure, "1353 4642 5752", 60, known);
    int n = 0;
    for (const char *c = "135346425752"; *c; c++, n++) {
        struct us_position at = {{4, 4}, n / 4, n % 4, n % 4 == 0, true};
        struct us_key key = {n < 6 ? 5 : 0, US_MODE_MAJOR};
        us_harmony_live_note(&late, key, &at, 60 + STEP_SEMITONES[*c - '0']);
        us_harmony_live_decide(&late, key, &at, &out);
        us_harmony_live_rest(&late);
    }
    ck_assert(us_chord_equal(out.chord, known[11].chord));
    ck_assert_double_eq_tol(out.probability, known[11].probability, 0.05);
}
END_TEST

/* A strain that is shorter than the hindsight's reach is judged to its end once the run is over. */
START_TEST(harmony_live_settles_a_short_strain)
{
    static struct us_harmony_live h;
    struct us_choice out[NOTES_MAX];
    uint32_t settled = 0, steps = 0;
    us_harmony_live_init(&h, NULL, US_CHORDS_PRIMARY, US_CHANGE_AUTO);
    play_bars(&h, "1353 4642 5752 1351 1353 4642 5772 1111", 60, out);
    ck_assert_uint_eq(h.memory.count, 32);
    us_harmony_live_over(&h);
    while (!us_harmony_live_settle(&h))
        steps++;
    for (int i = 0; i < US_MEMORY_BEATS; i++)
        settled += h.memory.liking[i] > 0 || h.memory.liking[i + US_MEMORY_BEATS] > 0;
    ck_assert_uint_eq(settled, 32);
    ck_assert_uint_ge(steps, 32); /* one beat a step at most */
    /* The last bar is I: the written melody allows nothing else.  In the memory it is surer than it was live.
     */
    ck_assert_double_gt((double)h.memory.role[31][0], 0.5);
}
END_TEST

/* What the hindsight has said of the end of a run is for good, and what was thought of it before that stays
   until then: the next run's first beats know nothing of it. */
START_TEST(harmony_live_keeps_what_it_knew_of_the_run_before)
{
    static struct us_harmony_live h;
    struct us_choice out[NOTES_MAX];
    for (int settled = 0; settled < 2; settled++) {
        float knew[8][3];
        us_harmony_live_init(&h, NULL, US_CHORDS_PRIMARY, US_CHANGE_AUTO);
        play_bars(&h, TUNE, 60, out);
        us_harmony_live_over(&h);
        while (settled && !us_harmony_live_settle(&h))
            ;
        memcpy(knew, h.memory.role[24], sizeof knew);
        us_harmony_live_fresh(&h);
        play_bars(&h, settled ? "5432 5432 1111" : "5432", 65, out);
        ck_assert_mem_eq(knew, h.memory.role[24], sizeof knew);
    }
}
END_TEST

/* One beat of eighths that lie in one chord a bar, or of a note whose chord is another at each beat. */
static void play_beat(struct us_harmony_live *h, int beat, bool by_beat)
{
    static const char *const BARS[] = {"1353", "1353", "4642", "4642", "5752", "5752", "1353", "1351"};
    static const char BEATS[] = "1147171532471714";
    const struct us_key key = {0, US_MODE_MAJOR};
    struct us_choice out;
    for (int half = 0; half < (by_beat ? 1 : 2); half++) {
        struct us_position at = {{4, 4}, beat / 4, beat % 4 + half / 2.0, !half && beat % 4 == 0, !half};
        char step = by_beat ? BEATS[beat % 16] : BARS[beat / 4 % 8][(beat * 2 + half) % 4];
        us_harmony_live_note(h, key, &at, 60 + STEP_SEMITONES[step - '0']);
        if (!half) us_harmony_live_decide(h, key, &at, &out);
    }
}

/* Whoever goes on to another tune without a pause, after a quarter of an hour, is heard as one who began with
   it: its style, and how often its chords change. */
START_TEST(harmony_live_forgets_how_it_was_long_ago)
{
    static struct us_harmony_live anew, later;
    const struct us_metre metre = {4, 4};
    us_harmony_live_init(&anew, NULL, US_CHORDS_PRIMARY, US_CHANGE_AUTO);
    us_harmony_live_init(&later, NULL, US_CHORDS_PRIMARY, US_CHANGE_AUTO);
    for (int beat = 0; beat < 2048; beat++)
        play_beat(&later, beat, false);
    uint8_t before = later.rate;
    for (int beat = 0; beat < 2560; beat++) {
        play_beat(&anew, beat, true);
        play_beat(&later, beat + 2048, true);
    }
    ck_assert_int_ne(anew.rate, before);
    ck_assert_int_eq(later.rate, anew.rate);
    ck_assert_double_eq_tol((double)us_harmony_live_style(&later, metre),
                            (double)us_harmony_live_style(&anew, metre), 0.1);
}
END_TEST

/* Hours after the run began a note on a beat is still the beat's, wherever between the quarters it falls. */
START_TEST(harmony_live_hears_as_well_after_hours)
{
    static struct us_harmony_live h;
    double sum[2] = {0};
    for (int late = 0; late < 2; late++) {
        us_harmony_live_init(&h, NULL, US_CHORDS_PRIMARY, US_CHANGE_BEAT);
        for (int beat = 0; beat < 32; beat++) {
            struct us_position at = {
                {4, 4}, 8 + beat / 4 + late * 16000, beat % 4 + 2.0 / 3, beat % 4 == 0, true};
            struct us_choice out;
            us_harmony_live_note(&h, (struct us_key){0, US_MODE_MAJOR}, &at,
                                 60 + STEP_SEMITONES[TUNE[beat + beat / 4] - '0']);
            us_harmony_live_decide(&h, (struct us_key){0, US_MODE_MAJOR}, &at, &out);
            sum[late] += out.role[US_ROLE_I];
        }
    }
    ck_assert_double_eq_tol(sum[0], sum[1], 1e-3);
}
END_TEST

/* Where the second playing, in another key, is surer of the chord that the whole tune asks for. */
START_TEST(harmony_live_remembers_a_tune_in_another_key)
{
    static struct us_harmony_live h;
    static const char LONG[] =
        "1353 4642 5752 1351 1353 4642 5772 1111 5553 5553 4442 4442 3331 2227 1353 1111";
    struct us_choice first[NOTES_MAX], again[NOTES_MAX];
    struct sung s;
    sing(&s, LONG, 60, US_CHORDS_PRIMARY, US_CHANGE_AUTO);
    judge(&s);
    us_harmony_live_init(&h, NULL, US_CHORDS_PRIMARY, US_CHANGE_AUTO);
    play_bars(&h, LONG, 60, first);
    us_harmony_live_fresh(&h);
    play_bars(&h, LONG, 65, again);
    double known = 0, knows = 0;
    int agree = 0;
    for (size_t t = 8; t < 24; t++) {
        enum us_role role = role_at(&s, t);
        known += first[t].role[role];
        knows += again[t].role[role];
        agree += us_chord_role(again[t].chord, (struct us_key){5, US_MODE_MAJOR}) == role;
    }
    ck_assert_int_ge(agree, 14);
    ck_assert_msg(knows > known, "%f, then %f", known, knows);
    leave(&s);
}
END_TEST

static bool is_chord(const struct us_choice *c)
{
    double sum = c->role[US_ROLE_I] + c->role[US_ROLE_IV] + c->role[US_ROLE_V];
    return c->chord.root >= 0 && c->chord.root < US_PITCH_CLASSES && c->chord.kind < US_CHORD_KINDS &&
           c->probability >= 0 && c->probability <= 1.0001 && fabs(sum - 1) < 1e-4;
}

/* Whatever comes, in whatever order, the answer is a chord, as likely as anything can be. */
START_TEST(harmony_live_bears_nonsense)
{
    static struct us_harmony_live h;
    uint32_t x = 1;
    us_harmony_live_init(&h, NULL, US_CHORDS_WIDE, US_CHANGE_AUTO);
    for (int i = 0; i < 5000; i++) {
        x = x * 1664525u + 1013904223u;
        struct us_key key = {(int8_t)(x >> 8 & 7), (uint8_t)(x >> 12 & 3)};
        struct us_position at = {
            {(uint8_t)(x >> 16 & 7), 4}, (int32_t)(x >> 20) % 50 - 2, (x >> 3 & 15) / 4.0, x & 1, true};
        struct us_choice out;
        if (x >> 5 & 3) us_harmony_live_note(&h, key, &at, (int)(x >> 25));
        if (x >> 7 & 1) us_harmony_live_decide(&h, key, &at, &out);
        if (x >> 7 & 1) ck_assert(is_chord(&out));
        if ((x >> 14 & 255) == 0) us_harmony_live_fresh(&h);
    }
}
END_TEST

int main(void)
{
    const TTest *const TESTS[] = {harmony_key_by_its_chords,
                                  harmony_transposed_tune_gets_transposed_chords,
                                  harmony_same_tune_gets_the_same_bytes,
                                  harmony_covers_the_tune_and_its_probabilities_add_up,
                                  harmony_changes_only_where_it_may,
                                  harmony_keeps_to_its_vocabulary,
                                  harmony_given_chords_win_and_the_rest_adapts,
                                  harmony_chosen_seventh_goes_on,
                                  harmony_same_melody_same_chords,
                                  harmony_starts_and_ends_at_home,
                                  harmony_scales_with_primary_triads,
                                  harmony_finds_how_often_chords_change,
                                  harmony_lets_passing_notes_go,
                                  harmony_live_transposes_and_keeps_its_probabilities,
                                  harmony_live_changes_only_at_bar_lines_when_told_so,
                                  harmony_live_keeps_its_rate_inside_a_phrase,
                                  harmony_live_has_no_chord_without_a_key,
                                  harmony_live_hears_again_when_the_key_is_revised,
                                  harmony_live_remembers_a_tune_in_another_key,
                                  harmony_live_settles_a_short_strain,
                                  harmony_live_keeps_what_it_knew_of_the_run_before,
                                  harmony_live_hears_as_well_after_hours,
                                  harmony_live_forgets_how_it_was_long_ago,
                                  harmony_live_bears_nonsense};
    return RUN_TESTS("harmony", TESTS);
}
