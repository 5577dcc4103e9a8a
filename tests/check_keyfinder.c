#include "support.h"

#include "undersong/chord.h"
#include "undersong/keyfinder.h"

#include <math.h>

enum { NOTES_MAX = 256 };
struct line {
    int pitch[NOTES_MAX];
    double length[NOTES_MAX];
    size_t count;
};

static void add(struct line *l, int pitch, double length)
{
    l->pitch[l->count] = pitch;
    l->length[l->count++] = length;
}

static struct us_key named(const char *name)
{
    struct us_key key;
    ck_assert_msg(us_key_parse(name, &key), "%s", name);
    return key;
}

/* Up and down the scale; in minor the harmonic one. */
static struct line scale(struct us_key key)
{
    struct line l = {.count = 0};
    for (int i = 0; i < 15; i++) {
        int step = i < 8 ? i : 14 - i;
        int pitch =
            60 + key.tonic + (step == 7 ? 12 : us_mode_step_semitones((enum us_mode)key.mode, step + 1));
        if (step == 6 && key.mode == US_MODE_MINOR) pitch = 60 + key.tonic + 11;
        add(&l, pitch, 1);
    }
    return l;
}

/* I IV V I broken, root third fifth third, ending on the root. */
static struct line broken_triads(struct us_key key)
{
    static const enum us_role ROLES[] = {US_ROLE_I, US_ROLE_IV, US_ROLE_V, US_ROLE_I};
    struct line l = {.count = 0};
    for (size_t i = 0; i < 4; i++) {
        struct us_chord chord = us_chord_primary(key, ROLES[i]);
        int root = 60 + key.tonic + us_pitch_class(chord.root - key.tonic);
        int third = root + (chord.kind == US_CHORD_MIN ? 3 : 4);
        add(&l, root, 1), add(&l, third, 1), add(&l, root + 7, 1), add(&l, third, 1);
    }
    add(&l, 60 + key.tonic, 2);
    return l;
}

static void check_whole(const struct line *l, struct us_key key, const char *what)
{
    char got[24], wanted[24];
    double sure;
    struct us_key found = us_key_of_tune(l->pitch, l->count, &sure);
    ck_assert_msg(us_key_equal(found, key), "%s: %s, not %s", what, us_key_name(found, got, sizeof got),
                  us_key_name(key, wanted, sizeof wanted));
    ck_assert(sure > 0.3 && sure <= 1.0);
}

static struct us_key play(struct us_keyfinder *k, const struct line *l, bool fresh)
{
    for (size_t i = 0; i < l->count; i++)
        us_keyfinder_note(k, l->pitch[i], l->length[i], fresh && i == 0);
    return us_keyfinder_best(k, NULL);
}

START_TEST(key_of_all_scales_and_primary_triads)
{
    for (int tonic = 0; tonic < 12; tonic++)
        for (int mode = 0; mode < US_MODES; mode++) {
            struct us_key key = {(int8_t)tonic, (uint8_t)mode};
            struct line lines[2] = {scale(key), broken_triads(key)};
            for (int i = 0; i < 2; i++) {
                struct us_keyfinder k;
                us_keyfinder_init(&k);
                check_whole(&lines[i], key, i ? "triads" : "scale");
                if (mode <= US_MODE_MINOR) ck_assert_int_eq(play(&k, &lines[i], true).tonic, tonic);
            }
        }
}
END_TEST

/* Profiles as published, entered from memory: Krumhansl and Kessler 1982; Temperley 1999. */
struct profiles {
    const char *name;
    double of[2][12]; /* major, minor */
};
static const struct profiles PUBLISHED[] = {
    {"Krumhansl-Kessler",
     {{6.35, 2.23, 3.48, 2.33, 4.38, 4.09, 2.52, 5.19, 2.39, 3.66, 2.29, 2.88},
      {6.33, 2.68, 3.52, 5.38, 2.60, 3.53, 2.54, 4.75, 3.98, 2.69, 3.34, 3.17}}},
    {"Temperley",
     {{5, 2, 3.5, 2, 4.5, 4, 2, 4.5, 2, 3.5, 1.5, 4}, {5, 2, 3.5, 4.5, 2, 4, 2, 4.5, 3.5, 2, 1.5, 4}}},
};

static double correlation(const double *heard, const double *profile, int tonic)
{
    double xm = 0, ym = 0, xy = 0, xx = 0, yy = 0;
    for (int i = 0; i < 12; i++)
        xm += heard[i] / 12, ym += profile[i] / 12;
    for (int i = 0; i < 12; i++) {
        double x = heard[(i + tonic) % 12] - xm, y = profile[i] - ym;
        xy += x * y, xx += x * x, yy += y * y;
    }
    return xy / sqrt(xx * yy);
}

static struct us_key by_profile(const struct profiles *p, const struct line *l)
{
    double heard[12] = {0}, best = -2;
    struct us_key found = {US_NO_KEY, US_MODE_MAJOR};
    for (size_t i = 0; i < l->count; i++)
        heard[l->pitch[i] % 12] += l->length[i];
    for (int f = 0; f < 24; f++) {
        double r = correlation(heard, p->of[f % 2], f / 2);
        if (r > best) best = r, found = (struct us_key){(int8_t)(f / 2), (uint8_t)(f % 2)};
    }
    return found;
}

/* The published profiles and ours say the same of the 24 scales and the primary triads of the 24 keys. */
START_TEST(key_agrees_with_published_profiles)
{
    for (int f = 0; f < 24; f++) {
        struct us_key key = {(int8_t)(f / 2), (uint8_t)(f % 2)};
        struct line lines[2] = {scale(key), broken_triads(key)};
        for (int i = 0; i < 4; i++) {
            const struct profiles *p = &PUBLISHED[i / 2];
            struct us_key theirs = by_profile(p, &lines[i % 2]);
            struct us_key ours = us_key_of_tune(lines[i % 2].pitch, lines[i % 2].count, NULL);
            ck_assert_msg(us_key_equal(theirs, key), "%s, key %d line %d: %d", p->name, f, i % 2,
                          theirs.tonic);
            ck_assert(us_key_equal(ours, theirs));
        }
    }
}
END_TEST

/* Openings made up for this test, with the key that a musician hears in them at their end. */
static const struct {
    const char *key;
    int pitch[24]; /* up to a 0 */
} OPENINGS[] = {
    {"G", {62, 67, 67, 69, 71, 67, 74, 72, 71, 69, 67}},
    {"F", {65, 69, 72, 70, 69, 67, 65, 64, 65}},
    {"D", {69, 74, 73, 74, 76, 78, 74, 79, 78, 76, 74}},
    {"Am", {64, 69, 71, 72, 71, 69, 68, 69, 76, 72, 69}},
    {"Dm", {62, 65, 69, 67, 65, 64, 62, 61, 62}},
    {"Bb", {70, 70, 72, 74, 75, 74, 72, 70, 69, 70}},
    {"D dorian", {62, 69, 69, 71, 69, 67, 65, 67, 69, 65, 62, 69, 71, 69, 67, 65, 64, 60, 62}},
    {"G mixolydian", {67, 69, 71, 67, 74, 71, 67, 71, 69, 65, 69, 65, 67, 71, 67}},
};

static struct line opening(size_t row, int shift)
{
    struct line l = {.count = 0};
    for (const int *p = OPENINGS[row].pitch; *p; p++)
        add(&l, *p + shift, 1);
    return l;
}
enum { OPENING_ROWS = sizeof OPENINGS / sizeof *OPENINGS };

START_TEST(key_of_openings_in_every_transposition)
{
    for (size_t row = 0; row < OPENING_ROWS; row++)
        for (int shift = -6; shift < 6; shift++) {
            struct line l = opening(row, shift);
            struct us_key key = named(OPENINGS[row].key);
            key.tonic = (int8_t)us_pitch_class(key.tonic + shift);
            struct us_keyfinder k;
            us_keyfinder_init(&k);
            check_whole(&l, key, OPENINGS[row].key);
            ck_assert_msg(us_key_equal(play(&k, &l, true), key), "%s live", OPENINGS[row].key);
        }
}
END_TEST

START_TEST(key_weights_move_with_the_tune)
{
    struct line low = opening(0, 0), high = opening(0, 5);
    struct us_keyfinder a, b;
    us_keyfinder_init(&a), us_keyfinder_init(&b);
    for (size_t i = 0; i < low.count; i++) {
        us_keyfinder_note(&a, low.pitch[i], 1, false);
        us_keyfinder_note(&b, high.pitch[i], 1, false);
        for (int key = 0; key < US_KEY_COUNT; key++)
            ck_assert_double_eq_tol(a.run.log_weight[key],
                                    b.run.log_weight[(key + 5 * US_MODES) % US_KEY_COUNT], 1e-9);
    }
}
END_TEST

/* The note on the first bar line is mostly a note of I: news about where that line is move the key.  As the
   tables have it from tunes. */
START_TEST(key_leans_on_the_first_bar_line)
{
    struct us_keyfinder k;
    double on_line, in_pickup;
    us_keyfinder_init(&k);
    us_keyfinder_note(&k, 67, 1, true);
    us_keyfinder_bar(&k, 67, 1);
    ck_assert_int_eq(us_keyfinder_best(&k, &on_line).tonic, 7);
    us_keyfinder_bar(&k, -1, 1);
    ck_assert_int_eq(us_keyfinder_best(&k, &in_pickup).tonic, 0); /* a pickup is mostly step 5 */
    us_keyfinder_note(&k, 74, 1, false);
    us_keyfinder_bar(&k, 67, 1);
    us_keyfinder_best(&k, &on_line);
    us_keyfinder_bar(&k, 74, 1);
    us_keyfinder_best(&k, &in_pickup);
    ck_assert_double_gt(fabs(on_line - in_pickup), 0.02);
}
END_TEST

static const int JUMP_OPENING[] = {67, 72, 74, 76, 74, 72, 71, 72, 74, 76, 77, 79, 77, 76};
static const double JUMP_LENGTH[] = {1, 1.5, 0.5, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1};

static void play_before_jump(struct us_keyfinder *k)
{
    us_keyfinder_init(k);
    for (int i = 0; i < 14; i++) {
        us_keyfinder_note(k, JUMP_OPENING[i], 1, i == 0);
        us_keyfinder_lasted(k, JUMP_LENGTH[i]);
    }
    ck_assert_int_eq(us_keyfinder_best(k, NULL).tonic, 0);
}

/* After a stop the opening comes in another key, in its rhythm: known at the third note, by every interval,
   though nobody says that the run is fresh.  In another rhythm the key stays. */
START_TEST(key_jumps_after_a_stop)
{
    for (int up = -5; up <= 6; up++)
        for (int other_rhythm = 0; other_rhythm < 2; other_rhythm++) {
            struct us_keyfinder k;
            play_before_jump(&k);
            us_keyfinder_stopped(&k);
            for (int i = 0; i < 3; i++) {
                us_keyfinder_note(&k, JUMP_OPENING[i] + up, 1, false);
                us_keyfinder_lasted(&k, other_rhythm ? 3 - i : 1.2 * JUMP_LENGTH[i]);
            }
            ck_assert_int_eq(us_keyfinder_best(&k, NULL).tonic, other_rhythm ? 0 : us_pitch_class(up));
        }
}
END_TEST

static void play_at_once(struct us_keyfinder *k, int up, int count)
{
    for (int i = 0; i < count; i++) {
        us_keyfinder_note(k, JUMP_OPENING[i] + up, 1, false);
        us_keyfinder_lasted(k, 0.8 * JUMP_LENGTH[i]);
    }
}

/* Without a stop the same is known at the third note where one of the three is strange to the key before, at
   the fourth where that is; a turn inside the scale changes nothing until it is as unlikely as that. */
START_TEST(key_jumps_at_once)
{
    us_pcset scale = us_key_scale((struct us_key){0, US_MODE_MAJOR});
    for (int up = -5; up <= 6; up++) {
        bool strange = false;
        for (int count = 1; up && count <= 4; count++) {
            struct us_keyfinder k;
            strange = strange || !us_pcset_has(scale, JUMP_OPENING[count - 1] + up);
            play_before_jump(&k);
            play_at_once(&k, up, count);
            ck_assert_msg(us_keyfinder_best(&k, NULL).tonic ==
                              (count >= 3 && strange ? us_pitch_class(up) : 0),
                          "%d up, %d notes: %d", up, count, us_keyfinder_best(&k, NULL).tonic);
        }
    }
}
END_TEST

/* A turn that only seemed to begin the tune in another key: where the next notes are the old key's, that is
   the key again, as sure as if nothing had been. */
START_TEST(key_takes_a_jump_back)
{
    static const int ON[] = {77, 76, 74, 72};
    struct us_keyfinder k, same;
    double sure, as_before;
    play_before_jump(&k);
    play_at_once(&k, 4, 3);
    ck_assert_int_eq(us_keyfinder_best(&k, NULL).tonic, 4);
    for (int i = 0; i < 4; i++)
        us_keyfinder_note(&k, ON[i], 1, false);
    ck_assert_int_eq(us_keyfinder_best(&k, &sure).tonic, 0);
    play_before_jump(&same);
    for (int i = 0; i < 3; i++) {
        us_keyfinder_note(&same, JUMP_OPENING[i] + 4, 1, false);
        us_keyfinder_lasted(&same, 3 - i); /* in another rhythm: not the opening */
    }
    for (int i = 0; i < 4; i++)
        us_keyfinder_note(&same, ON[i], 1, false);
    us_keyfinder_best(&same, &as_before);
    ck_assert_double_eq_tol(sure, as_before, 1e-9);
}
END_TEST

/* Started again in another key: known at the third note at the latest. */
START_TEST(key_follows_a_restart_in_another_key)
{
    for (size_t row = 0; row < OPENING_ROWS; row++)
        for (int shift = -6; shift <= 6; shift++) {
            struct us_key key = named(OPENINGS[row].key);
            struct line first = opening(row, 0), again = opening(row, shift);
            struct us_keyfinder k;
            us_keyfinder_init(&k);
            play(&k, &first, true);
            again.count = 3;
            int found = play(&k, &again, true).tonic;
            ck_assert_msg(found == us_pitch_class(key.tonic + shift), "%s by %d: %d", OPENINGS[row].key,
                          shift, found);
        }
}
END_TEST

/* A second start in another key after a start of two notes only still knows the tune. */
START_TEST(key_remembers_past_a_false_start)
{
    struct line first = opening(1, 0), stumble = opening(1, 2), again = opening(1, 4);
    struct us_keyfinder k;
    us_keyfinder_init(&k);
    play(&k, &first, true);
    stumble.count = 2, again.count = 3;
    play(&k, &stumble, true);
    ck_assert_int_eq(play(&k, &again, true).tonic, 9);
}
END_TEST

START_TEST(key_holds_through_passing_accidentals)
{
    for (int accidental = 0; accidental < 12; accidental++) {
        struct line l = opening(0, 0);
        struct us_keyfinder k;
        us_keyfinder_init(&k);
        play(&k, &l, true);
        for (int times = 0; times < 2; times++) {
            us_keyfinder_note(&k, 60 + accidental, 0.5, false);
            ck_assert_int_eq(us_keyfinder_best(&k, NULL).tonic, 7);
            us_keyfinder_note(&k, 62, 1, false);
            ck_assert_int_eq(us_keyfinder_best(&k, NULL).tonic, 7);
        }
    }
}
END_TEST

/* The candidates: the first is us_key_of_tune's, no key comes twice, none is further behind than allowed. */
START_TEST(key_candidates_of_a_tune)
{
    const int nothing[1] = {60};
    struct us_key_candidate c[6];
    ck_assert_uint_eq(us_keys_of_tune(nothing, 0, c, 6), 0);
    for (int tonic = 0; tonic < US_PITCH_CLASSES; tonic++) {
        struct line l = {.count = 0};
        static const int TUNE[] = {4, 0, 9, 4};
        for (size_t i = 0; i < sizeof TUNE / sizeof *TUNE; i++)
            add(&l, 60 + tonic + TUNE[i], 1);
        size_t count = us_keys_of_tune(l.pitch, l.count, c, 6);
        ck_assert_uint_ge(count, 2);
        ck_assert(us_key_equal(c[0].key, us_key_of_tune(l.pitch, l.count, NULL)));
        ck_assert_double_eq(c[0].log_weight, 0);
        for (size_t i = 1; i < count; i++) {
            ck_assert(c[i].log_weight <= c[i - 1].log_weight && c[i].log_weight >= -US_KEY_DOUBT);
            for (size_t k = 0; k < i; k++)
                ck_assert(!us_key_equal(c[i].key, c[k].key));
        }
        ck_assert_uint_eq(us_keys_of_tune(l.pitch, l.count, c, 1), 1);
    }
}
END_TEST

START_TEST(key_lock_and_silence)
{
    struct us_keyfinder k;
    double sure = 2;
    us_keyfinder_init(&k);
    ck_assert_int_eq(us_keyfinder_best(&k, &sure).tonic, US_NO_KEY);
    ck_assert_double_eq(sure, 0);
    us_keyfinder_lock(&k, named("Eb"));
    struct line l = opening(0, 0);
    ck_assert_int_eq(play(&k, &l, true).tonic, 3);
    us_keyfinder_best(&k, &sure);
    ck_assert_double_eq(sure, 1);
    us_keyfinder_lock(&k, (struct us_key){US_NO_KEY, US_MODE_MAJOR});
    ck_assert_int_eq(us_keyfinder_best(&k, &sure).tonic, 7);
    ck_assert(sure > 0.5 && sure < 1);
    ck_assert_int_eq(us_key_of_tune(NULL, 0, &sure).tonic, US_NO_KEY);
    ck_assert_double_eq(sure, 0);
}
END_TEST

START_TEST(key_changes_inside_a_tune)
{
    struct line l = {.count = 0};
    /* G, then D, then G: six times each the same strain of eleven notes. */
    for (size_t part = 0; part < 18; part++) {
        struct line one = opening(0, part / 6 == 1 ? 7 : 0);
        for (size_t i = 0; i < one.count; i++)
            add(&l, one.pitch[i], 1);
    }
    struct us_key_change changes[8];
    size_t count = us_key_changes(l.pitch, l.count, named("G"), changes, 8);
    ck_assert_uint_eq(count, 3);
    ck_assert(us_key_equal(changes[0].key, named("G")) && changes[0].from == 0);
    ck_assert(us_key_equal(changes[1].key, named("D")));
    ck_assert(changes[1].from >= 62 && changes[1].from <= 70);
    ck_assert(us_key_equal(changes[2].key, named("G")));
    ck_assert(changes[2].from >= 128 && changes[2].from <= 136);
    ck_assert_uint_eq(us_key_changes(l.pitch, 66, named("G"), changes, 8), 1);
    ck_assert_uint_eq(us_key_changes(l.pitch, l.count, named("G"), changes, 1), 1);
}
END_TEST

/* A leading note of the fifth here and there is no change of key. */
START_TEST(key_stays_for_passing_accidentals)
{
    struct line l = {.count = 0};
    for (size_t part = 0; part < 12; part++) {
        struct line one = opening(0, 0);
        for (size_t i = 0; i < one.count; i++)
            add(&l, one.pitch[i], 1);
        add(&l, 73, 0.5), add(&l, 74, 1);
    }
    struct us_key_change changes[8];
    ck_assert_uint_eq(us_key_changes(l.pitch, l.count, named("G"), changes, 8), 1);
}
END_TEST

int main(void)
{
    const TTest *const TESTS[] = {
        key_of_all_scales_and_primary_triads,
        key_agrees_with_published_profiles,
        key_of_openings_in_every_transposition,
        key_weights_move_with_the_tune,
        key_leans_on_the_first_bar_line,
        key_follows_a_restart_in_another_key,
        key_jumps_after_a_stop,
        key_jumps_at_once,
        key_takes_a_jump_back,
        key_remembers_past_a_false_start,
        key_holds_through_passing_accidentals,
        key_candidates_of_a_tune,
        key_lock_and_silence,
        key_changes_inside_a_tune,
        key_stays_for_passing_accidentals,
    };
    return RUN_TESTS("keyfinder", TESTS);
}
