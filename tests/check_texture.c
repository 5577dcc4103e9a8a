#include "support.h"

#include "clashes.h"
#include "undersong/texture.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

static struct us_voicing_context context_in(const char *key_name, int melody)
{
    struct us_voicing_context context = {
        .melody = melody, .lowest = US_LEFT_LOWEST, .highest = US_LEFT_HIGHEST};
    ck_assert(us_key_parse(key_name, &context.key));
    return context;
}

/* "C3 E3 G3" */
static char *spell(struct us_voicing v, struct us_key key, char *out, size_t size)
{
    size_t used = 0;
    *out = '\0';
    for (int n = 0; n < v.count && used < size; n++) {
        char name[8];
        used += (size_t)snprintf(out + used, size - used, "%s%s", n ? " " : "",
                                 us_pitch_name(v.pitch[n], us_key_flats(key), name, sizeof name));
    }
    return out;
}

START_TEST(texture_names)
{
    static const char *const NAMES[] = {"block", "fifths", "root-run", "broken", "waltz", "drone", "roots"};
    for (int t = 0; t < US_TEXTURES; t++) {
        enum us_texture back;
        ck_assert(us_texture_parse(NAMES[t], &back) && back == (enum us_texture)t);
    }
    enum us_texture none;
    ck_assert(!us_texture_parse("", &none) && !us_texture_parse("Block", &none));
}
END_TEST

/* I IV V I under melody notes of the chords (the octave above middle C), played from the start.  Checked by
   hand against harmony primers: common notes stay, 7 goes to 1, close position (common practice, no
   source). */
START_TEST(texture_progressions)
{
    static const struct {
        const char *key;
        enum us_texture texture;
        const char *hand[4];
    } ROWS[] = {
        {"C", US_TEXTURE_BLOCK, {"C3 E3 G3", "C3 F3 A3", "D3 G3 B3", "E3 G3 C4"}},
        {"C", US_TEXTURE_FIFTHS, {"C3 G3", "F2 C3", "G2 D3", "C3 G3"}},
        {"C", US_TEXTURE_ROOTS, {"C3", "F2", "G2", "C3"}},
        {"C", US_TEXTURE_WALTZ, {"C3 E3 G3", "F2 C3 A3", "G2 D3 B3", "C3 E3 G3"}},
        {"G", US_TEXTURE_BLOCK, {"G3 B3 D4", "G3 C4 E4", "F#3 A3 D4", "G3 B3 D4"}},
        {"G", US_TEXTURE_FIFTHS, {"G2 D3", "C3 G3", "D3 A3", "G2 D3"}},
        {"G", US_TEXTURE_WALTZ, {"G2 D3 B3", "C3 E3 G3", "D3 F#3 A3", "G2 D3 B3"}},
        {"Eb", US_TEXTURE_BLOCK, {"Eb3 G3 Bb3", "Eb3 Ab3 C4", "D3 F3 Bb3", "Eb3 G3 Bb3"}},
        {"Eb", US_TEXTURE_FIFTHS, {"Eb3 Bb3", "Ab2 Eb3", "Bb2 F3", "Eb3 Bb3"}},
        {"Eb", US_TEXTURE_ROOTS, {"Eb3", "Ab2", "Bb2", "Eb3"}},
        {"Am", US_TEXTURE_BLOCK, {"C3 E3 A3", "D3 F3 A3", "B2 E3 G#3", "C3 E3 A3"}},
        {"Am", US_TEXTURE_FIFTHS, {"A2 E3", "D3 A3", "E3 B3", "A2 E3"}},
        {"Am", US_TEXTURE_DRONE, {"A2 E3", "A2", "A2 E3", "A2 E3"}},
    };
    static const enum us_role ROLES[4] = {US_ROLE_I, US_ROLE_IV, US_ROLE_V, US_ROLE_I};
    static const int MELODY_STEP[4] = {1, 6, 2, 1};
    for (size_t i = 0; i < sizeof ROWS / sizeof *ROWS; i++) {
        struct us_voicing_context context = context_in(ROWS[i].key, 0);
        for (int n = 0; n < 4; n++) {
            int above = us_mode_step_semitones((enum us_mode)context.key.mode, MELODY_STEP[n]);
            context.melody_before = n ? context.melody : 0;
            context.melody = 72 + us_pitch_class(context.key.tonic + above);
            struct us_chord chord = us_chord_primary(context.key, ROLES[n]);
            context.before = us_texture_hand(ROWS[i].texture, chord, &context);
            char text[40];
            spell(context.before, context.key, text, sizeof text);
            ck_assert_str_eq(text, ROWS[i].hand[n]);
        }
    }
}
END_TEST

static void describe(const struct us_strike *strikes, size_t count, struct us_key key, char *out, size_t size)
{
    size_t used = 0;
    *out = '\0';
    for (size_t i = 0; i < count && used < size; i++) {
        char notes[40];
        used += (size_t)snprintf(out + used, size - used, "%s%g %s", i ? " | " : "", strikes[i].at,
                                 spell(strikes[i].notes, key, notes, sizeof notes));
    }
}

/* One bar of each left hand.  Common practice, no source. */
START_TEST(texture_bars)
{
    static const struct {
        enum us_texture texture;
        const char *metre;
        enum us_role role;
        double from, until;
        const char *want;
    } ROWS[] = {
        {US_TEXTURE_BLOCK, "3/4", US_ROLE_I, 0, 3, "0 C3 E3 G3"},
        {US_TEXTURE_FIFTHS, "4/4", US_ROLE_IV, 2, 4, "2 F2 C3"},
        {US_TEXTURE_ROOT_RUN, "3/4", US_ROLE_I, 0, 3, "0 C3"},
        {US_TEXTURE_ROOT_RUN, "3/4", US_ROLE_IV, 0, 3, "0 F2"},
        {US_TEXTURE_ROOT_RUN, "3/4", US_ROLE_V, 0, 3, "0 G2 | 0.5 B2 | 1 D3 | 1.5 G3 | 2 D3 | 2.5 B2"},
        {US_TEXTURE_ROOT_RUN, "4/4", US_ROLE_V, 0, 4,
         "0 G2 | 0.5 B2 | 1 D3 | 1.5 G3 | 2 B3 | 2.5 G3 | 3 D3 | 3.5 B2"},
        {US_TEXTURE_ROOT_RUN, "4/4", US_ROLE_V, 2, 4, "2 G2 | 2.5 B2 | 3 D3 | 3.5 G3"},
        {US_TEXTURE_ROOT_RUN, "6/8", US_ROLE_V, 0, 3, "0 G2 | 0.5 B2 | 1 D3 | 1.5 G3 | 2 D3 | 2.5 B2"},
        {US_TEXTURE_ROOT_RUN, "2/4", US_ROLE_V, 0, 2, "0 G2 | 0.5 B2 | 1 D3 | 1.5 G3"},
        {US_TEXTURE_BROKEN, "4/4", US_ROLE_I, 0, 4,
         "0 C3 | 0.5 G3 | 1 E3 | 1.5 G3 | 2 C3 | 2.5 G3 | 3 E3 | 3.5 G3"},
        {US_TEXTURE_BROKEN, "6/8", US_ROLE_I, 0, 3, "0 C3 | 0.5 E3 | 1 G3 | 1.5 C3 | 2 E3 | 2.5 G3"},
        {US_TEXTURE_BROKEN, "3/8", US_ROLE_I, 0, 1.5, "0 C3 | 0.5 E3 | 1 G3"},
        {US_TEXTURE_WALTZ, "3/4", US_ROLE_I, 0, 3, "0 C3 | 1 E3 G3 | 2 E3 G3"},
        {US_TEXTURE_WALTZ, "3/4", US_ROLE_I, 2, 3, "2 C3"},
        {US_TEXTURE_WALTZ, "4/4", US_ROLE_V, 0, 4, "0 G2 | 1 D3 B3 | 2 G2 | 3 D3 B3"},
        {US_TEXTURE_WALTZ, "2/4", US_ROLE_I, 0, 2, "0 C3 | 1 E3 G3"},
        {US_TEXTURE_WALTZ, "6/8", US_ROLE_I, 0, 3, "0 C3 | 1 E3 G3 | 1.5 C3 | 2.5 E3 G3"},
        {US_TEXTURE_WALTZ, "9/8", US_ROLE_I, 0, 4.5, "0 C3 | 1.5 E3 G3 | 3 E3 G3"},
        {US_TEXTURE_ROOT_RUN, "3/4", US_ROLE_V, 1, 3, "1 G2 | 1.5 B2 | 2 D3 | 2.5 G3"},
        {US_TEXTURE_BROKEN, "3/4", US_ROLE_I, 0, 3, "0 C3 | 0.5 G3 | 1 E3 | 1.5 G3 | 2 C3 | 2.5 G3"},
        {US_TEXTURE_BROKEN, "2/4", US_ROLE_I, 1, 2, "1 C3 | 1.5 G3"},
        {US_TEXTURE_WALTZ, "3/8", US_ROLE_I, 0, 1.5, "0 C3 | 0.5 E3 G3 | 1 E3 G3"},
        {US_TEXTURE_WALTZ, "5/4", US_ROLE_I, 0, 5, "0 C3 | 1 E3 G3 | 2 E3 G3 | 3 C3 | 4 E3 G3"},
        {US_TEXTURE_WALTZ, "6/4", US_ROLE_I, 0, 6, "0 C3 | 1 E3 G3 | 2 E3 G3 | 3 C3 | 4 E3 G3 | 5 E3 G3"},
        {US_TEXTURE_WALTZ, "7/8", US_ROLE_I, 0, 3.5,
         "0 C3 | 0.5 E3 G3 | 1 E3 G3 | 1.5 C3 | 2 E3 G3 | 2.5 C3 | 3 E3 G3"},
        {US_TEXTURE_WALTZ, "12/8", US_ROLE_I, 0, 6, "0 C3 | 1.5 E3 G3 | 3 C3 | 4.5 E3 G3"},
        {US_TEXTURE_BLOCK, "3/4", US_ROLE_I, 2, 2, ""},
        {US_TEXTURE_DRONE, "4/4", US_ROLE_V, 0, 4, "0 C3 G3"},
        {US_TEXTURE_ROOTS, "4/4", US_ROLE_V, 0, 4, "0 G2"},
    };
    for (size_t i = 0; i < sizeof ROWS / sizeof *ROWS; i++) {
        struct us_voicing_context context = context_in("C", 74);
        struct us_metre metre;
        struct us_strike strikes[US_STRIKES_MAX];
        ck_assert(us_metre_parse(ROWS[i].metre, &metre));
        size_t count = us_texture_bar(ROWS[i].texture, us_chord_primary(context.key, ROWS[i].role),
                                      ROWS[i].role, metre, ROWS[i].from, ROWS[i].until, &context, strikes);
        char text[300];
        describe(strikes, count, context.key, text, sizeof text);
        ck_assert_str_eq(text, ROWS[i].want);
    }
}
END_TEST

/* The bar line is the loudest, then the beats, then what lies between. */
START_TEST(texture_levels)
{
    struct us_voicing_context context = context_in("C", 79);
    struct us_strike strikes[US_STRIKES_MAX];
    struct us_chord c = us_chord_primary(context.key, US_ROLE_I);
    size_t count =
        us_texture_bar(US_TEXTURE_BROKEN, c, US_ROLE_I, (struct us_metre){4, 4}, 0, 4, &context, strikes);
    ck_assert_uint_eq(count, 8);
    for (size_t i = 1; i < count; i++) {
        ck_assert_int_lt(strikes[i].level, strikes[0].level);
        if (i % 2) ck_assert_int_lt(strikes[i].level, strikes[i - 1].level);
        if (i % 2 == 0) ck_assert_int_eq(strikes[i].level, strikes[2].level);
    }
    count = us_texture_bar(US_TEXTURE_BROKEN, c, US_ROLE_I, (struct us_metre){6, 8}, 0, 3, &context, strikes);
    ck_assert_uint_eq(count, 6);
    for (size_t i = 1; i < count; i++)
        ck_assert(i == 3 ? strikes[i].level > strikes[1].level : strikes[i].level == strikes[1].level);
}
END_TEST

static void check_bar(enum us_texture texture, struct us_chord chord, enum us_role role,
                      struct us_metre metre, double from, double until,
                      const struct us_voicing_context *context)
{
    struct us_strike strikes[US_STRIKES_MAX];
    size_t count = us_texture_bar(texture, chord, role, metre, from, until, context, strikes);
    struct us_voicing first = us_texture_strike(texture, chord, context);
    ck_assert_uint_eq(count > 0, first.count > 0);
    if (!count) return;
    ck_assert(count <= US_STRIKES_MAX);
    bool same =
        strikes[0].notes.count == first.count && !memcmp(strikes[0].notes.pitch, first.pitch, first.count);
    ck_assert(same && strikes[0].at == from);
    double end = from;
    for (size_t i = 0; i < count; i++) {
        bool sound = fabs(strikes[i].at - end) < 1e-9 && strikes[i].len > 0.05 && strikes[i].level > 0 &&
                     strikes[i].level <= 127 && strikes[i].notes.count > 0;
        end = strikes[i].at + strikes[i].len;
        for (int n = 0; n < strikes[i].notes.count; n++)
            sound = sound && (context->melody < 0 || strikes[i].notes.pitch[n] < context->melody);
        sound = sound && !clashes(strikes[i].notes, context->melody);
        ck_assert_msg(sound, "texture %d %d/%d strike %zu", texture, metre.top, metre.bottom, i);
    }
    ck_assert(fabs(end - until) < 1e-9);
}

/* Every bar: begins with the strike, no gap, no overlap, below the melody, no clash; unknown metre is as 4/4.
 */
START_TEST(texture_bars_are_whole)
{
    static const struct us_metre METRES[] = {{4, 4}, {3, 4}, {2, 4}, {6, 8}, {9, 8}, {12, 8}, {2, 2}, {3, 8},
                                             {5, 4}, {5, 8}, {7, 8}, {6, 4}, {4, 2}, {3, 2},  {1, 4}, {0, 0}};
    for (size_t m = 0; m < sizeof METRES / sizeof *METRES; m++)
        for (int t = 0; t < US_TEXTURES; t++)
            for (int role = US_ROLE_I; role <= US_ROLE_V; role++)
                for (int melody = -1; melody < 90; melody += melody < 0 ? 37 : 1)
                    for (int half = 0; half < 3; half++) {
                        struct us_voicing_context context = context_in("G", melody);
                        double bar = us_metre_bar_quarters(METRES[m]);
                        check_bar((enum us_texture)t, us_chord_primary(context.key, (enum us_role)role),
                                  (enum us_role)role, METRES[m], half == 1 ? bar / 2 : 0,
                                  half == 2 ? bar / 2 : bar, &context);
                    }
}
END_TEST

/* Moving key, melody and hand up by a fifth or a third moves nothing but the pitch class of the answer: the
   same tones of the chord sound. */
START_TEST(texture_hand_moves_with_the_key)
{
    for (int t = 0; t < US_TEXTURES; t++)
        for (int role = US_ROLE_I; role <= US_ROLE_V; role++)
            for (int tonic = 0; tonic < 12; tonic++) {
                struct us_voicing_context context = context_in("C", 79 + tonic);
                context.key.tonic = (int8_t)tonic;
                struct us_chord chord = us_chord_primary(context.key, (enum us_role)role);
                struct us_voicing v = us_texture_hand((enum us_texture)t, chord, &context);
                us_pcset sounding = 0, home = 0;
                for (int n = 0; n < v.count; n++)
                    sounding |= (us_pcset)(1 << v.pitch[n] % 12);
                context = context_in("C", 79);
                v = us_texture_hand((enum us_texture)t, us_chord_primary(context.key, (enum us_role)role),
                                    &context);
                for (int n = 0; n < v.count; n++)
                    home |= (us_pcset)(1 << v.pitch[n] % 12);
                ck_assert_uint_eq(sounding, us_pcset_transpose(home, tonic));
            }
}
END_TEST

START_TEST(texture_without_a_chord_or_key)
{
    struct us_voicing_context context = context_in("C", 74);
    struct us_chord none = {US_NO_CHORD, US_CHORD_MAJ}, g = {7, US_CHORD_MAJ};
    for (int t = 0; t < US_TEXTURES; t++)
        ck_assert_int_eq(us_texture_hand((enum us_texture)t, none, &context).count,
                         t == US_TEXTURE_DRONE ? 2 : 0);
    context.key.tonic = US_NO_KEY;
    ck_assert_int_eq(us_texture_hand(US_TEXTURE_DRONE, g, &context).pitch[0] % 12, 7);
    ck_assert_int_eq(us_texture_hand(US_TEXTURE_BLOCK, g, &context).count, 3);
}
END_TEST

int main(void)
{
    const TTest *const TESTS[] = {
        texture_names,
        texture_progressions,
        texture_bars,
        texture_levels,
        texture_bars_are_whole,
        texture_hand_moves_with_the_key,
        texture_without_a_chord_or_key,
    };
    return RUN_TESTS("texture", TESTS);
}
