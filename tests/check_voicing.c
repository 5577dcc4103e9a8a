#include "support.h"

#include "clashes.h"
#include "undersong/texture.h"

#include <stdlib.h>

/* Every rule for the hand, over all keys, chords, textures, melody notes and a range of hands before. */

/* Lowest lower note by interval: common orchestration tables, the higher of two; no third below C3 (common
   practice, no source); seconds from memory. */
static int low_limit(int interval)
{
    static const int LIMIT[12] = {0, 52, 51, 49, 48, 45, 35, 37, 41, 41, 41, 41};
    return interval < 12 ? LIMIT[interval] : 0;
}

struct instance {
    struct us_key key;
    struct us_chord chord;
    enum us_texture texture;
    struct us_voicing_context context;
};

/* The chords a tune in the key may meet: the primary triads, V7, ii, ii7, vi, vii and V/V. */
enum { KEY_CHORDS = 9 };
static struct us_chord key_chord(struct us_key key, int i)
{
    static const struct us_chord OTHERS[] = {{7, US_CHORD_DOM7}, {2, US_CHORD_MIN},  {2, US_CHORD_MIN7},
                                             {9, US_CHORD_MIN},  {11, US_CHORD_DIM}, {2, US_CHORD_DOM7}};
    if (i < 3) return us_chord_primary(key, (enum us_role)(i + 1));
    return (struct us_chord){(int8_t)us_pitch_class(key.tonic + OTHERS[i - 3].root), OTHERS[i - 3].kind};
}

static const struct us_voicing BEFORE[] = {
    {0, {0}},      {3, {48, 52, 55}}, {3, {55, 59, 62}},     {3, {50, 53, 59}},
    {2, {41, 48}}, {1, {43}},         {4, {50, 53, 55, 59}},
};
enum { BEFORES = sizeof BEFORE / sizeof *BEFORE };

static struct us_voicing_context context_of(struct us_key key, int melody, int melody_before,
                                            struct us_voicing before)
{
    return (struct us_voicing_context){.key = key,
                                       .melody = melody,
                                       .melody_before = melody_before,
                                       .lowest = US_LEFT_LOWEST,
                                       .highest = US_LEFT_HIGHEST,
                                       .before = before};
}

static void for_all(enum us_texture first, enum us_texture last, void (*check)(const struct instance *))
{
    long count = 0;
    for (int tonic = 0; tonic < 12; tonic++)
        for (int mode = 0; mode < 2; mode++)
            for (int c = 0; c < KEY_CHORDS; c++)
                for (int t = (int)first; t <= (int)last; t++)
                    for (int melody = 35; melody <= 96; melody++)
                        for (int b = 0; b < BEFORES; b++) {
                            struct us_key key = {(int8_t)tonic, (uint8_t)mode};
                            int sounding = melody == 35 ? -1 : melody;
                            struct instance i = {key, key_chord(key, c), (enum us_texture)t,
                                                 context_of(key, sounding, melody + 2, BEFORE[b])};
                            check(&i);
                            count++;
                        }
    ck_assert_int_eq(count, 12L * 2 * KEY_CHORDS * ((int)last - (int)first + 1) * 62 * BEFORES);
}

#define WHERE "key %d mode %d chord %d kind %d texture %d melody %d"
#define WHERE_ARGS(i)                                                                                        \
    (i)->key.tonic, (i)->key.mode, (i)->chord.root, (i)->chord.kind, (int)(i)->texture, (i)->context.melody

static void check_below_and_in_reach(const struct instance *i)
{
    struct us_voicing v = us_texture_hand(i->texture, i->chord, &i->context);
    for (int n = 0; n < v.count; n++) {
        MUST(i->context.melody < 0 || v.pitch[n] < i->context.melody, WHERE, WHERE_ARGS(i));
        MUST(v.pitch[n] >= US_LEFT_LOWEST && v.pitch[n] <= US_LEFT_HIGHEST, WHERE, WHERE_ARGS(i));
        MUST(n == 0 || v.pitch[n] > v.pitch[n - 1], WHERE, WHERE_ARGS(i));
    }
    if (v.count) MUST(v.pitch[v.count - 1] - v.pitch[0] <= 16, WHERE, WHERE_ARGS(i));
    /* From a fifth above the lowest note on there is always a tone that fits. */
    if (i->context.melody < 0 || i->context.melody > US_LEFT_LOWEST + 12)
        MUST(v.count > 0, WHERE, WHERE_ARGS(i));
    MUST(v.count <= US_LEFT_NOTES_MAX, WHERE, WHERE_ARGS(i));
}

/* Below the melody, not crossing, at most a tenth (harmony primers, from memory). */
START_TEST(voicing_stays_below_the_melody_in_reach)
{
    for_all(US_TEXTURE_BLOCK, US_TEXTURE_ROOTS, check_below_and_in_reach);
}
END_TEST

static void check_low_limits(const struct instance *i)
{
    struct us_voicing v = us_texture_hand(i->texture, i->chord, &i->context);
    int first = i->texture == US_TEXTURE_WALTZ ? 1 : 0; /* the bass sounds alone */
    for (int a = first; a < v.count; a++)
        for (int b = a + 1; b < v.count; b++)
            MUST(v.pitch[a] >= low_limit(v.pitch[b] - v.pitch[a]), WHERE ": %d %d", WHERE_ARGS(i), v.pitch[a],
                 v.pitch[b]);
}

START_TEST(voicing_keeps_the_low_interval_limits)
{
    for_all(US_TEXTURE_BLOCK, US_TEXTURE_ROOTS, check_low_limits);
}
END_TEST

static bool is_leading(const struct instance *i, int pitch)
{
    return us_pitch_class(pitch + 1) == i->key.tonic;
}

static bool is_dominant_seventh(const struct instance *i, int pitch)
{
    return i->chord.kind == US_CHORD_DOM7 && us_pitch_class(pitch - i->chord.root) == 10;
}

static void check_no_clash_no_doubling(const struct instance *i)
{
    struct us_voicing v = us_texture_hand(i->texture, i->chord, &i->context);
    MUST(!clashes(v, i->context.melody), WHERE, WHERE_ARGS(i));
    for (int n = 0; n < v.count; n++) {
        int above = i->context.melody - v.pitch[n];
        MUST(i->context.melody < 0 || (above != 1 && above != 13), WHERE, WHERE_ARGS(i));
        if (i->texture == US_TEXTURE_DRONE) continue;
        bool doubled = i->context.melody >= 0 && above % 12 == 0;
        for (int m = 0; m < n; m++)
            doubled |= (v.pitch[n] - v.pitch[m]) % 12 == 0;
        bool tender = is_leading(i, v.pitch[n]) || is_dominant_seventh(i, v.pitch[n]);
        MUST(!(doubled && tender), WHERE, WHERE_ARGS(i));
    }
}

/* Double the root, never the leading note (harmony primers, from memory). */
START_TEST(voicing_never_clashes_or_doubles_the_leading_note)
{
    for_all(US_TEXTURE_BLOCK, US_TEXTURE_ROOTS, check_no_clash_no_doubling);
}
END_TEST

static bool is_free(const struct instance *i, int tone)
{
    if (i->context.melody < 0) return true;
    if (us_pitch_class(i->context.melody) == us_pitch_class(tone + 1)) return false;
    int above_root = us_pitch_class(tone - i->chord.root);
    bool major = i->chord.kind == US_CHORD_MAJ || i->chord.kind == US_CHORD_DOM7;
    bool lowered = us_pitch_class(i->context.melody) == us_pitch_class(tone - 1);
    if (major && lowered && (above_root == 4 || above_root == 7)) return false;
    bool third_of_seventh = i->chord.kind == US_CHORD_DOM7 && above_root == 4;
    bool tender = is_leading(i, tone) || is_dominant_seventh(i, tone) || third_of_seventh;
    return !(tender && us_pcset_has((us_pcset)(1 << us_pitch_class(tone)), i->context.melody));
}

static bool all_tones_free(const struct instance *i)
{
    us_pcset tones = us_chord_tones(i->chord);
    for (int pc = 0; pc < 12; pc++)
        if (us_pcset_has(tones, pc) && !is_free(i, pc)) return false;
    return true;
}

/* All legal three-note hands under this melody, by trying every three keys of the keyboard. */
static int all_triads(const struct instance *i, int widest, struct us_voicing *out, int capacity)
{
    us_pcset tones = us_chord_tones(i->chord);
    int top = i->context.melody >= 0 && i->context.melody <= US_LEFT_HIGHEST ? i->context.melody - 1
                                                                             : US_LEFT_HIGHEST;
    int count = 0;
    for (int a = US_LEFT_LOWEST; a <= top; a++)
        for (int b = a + 1; b <= top && us_pcset_has(tones, a); b++)
            for (int c = b + 1; c <= top && c - a <= widest && us_pcset_has(tones, b); c++) {
                us_pcset set = (us_pcset)(1 << a % 12 | 1 << b % 12 | 1 << c % 12);
                if (set != tones || a < low_limit(b - a) || a < low_limit(c - a) || b < low_limit(c - b))
                    continue;
                MUST(count < capacity, "%d", count);
                out[count++] = (struct us_voicing){3, {(uint8_t)a, (uint8_t)b, (uint8_t)c}};
            }
    return count;
}

static void check_full_or_rooted(const struct instance *i)
{
    struct us_voicing v = us_texture_hand(US_TEXTURE_BLOCK, i->chord, &i->context), room[64];
    us_pcset set = 0, tones = us_chord_tones(i->chord);
    for (int n = 0; n < v.count; n++)
        set |= (us_pcset)(1 << v.pitch[n] % 12);
    MUST((set & ~tones) == 0, WHERE, WHERE_ARGS(i));
    bool free = all_tones_free(i);
    if (__builtin_popcount(tones) == 3 && free && all_triads(i, 16, room, 64) > 0)
        MUST(set == tones, WHERE, WHERE_ARGS(i));
    us_pcset seventh =
        (us_pcset)(__builtin_popcount(tones) == 4 ? 1 << us_pitch_class(i->chord.root + 10) : 0);
    bool reduced = (set | seventh) != tones;
    if (v.count && reduced && is_free(i, i->chord.root) && (i->context.melody < 0 || i->context.melody > 48))
        MUST(v.pitch[0] % 12 == i->chord.root, WHERE, WHERE_ARGS(i));
}

/* All three tones wherever they fit; thinned chords stand on their root. */
START_TEST(voicing_is_complete_where_there_is_room)
{
    for_all(US_TEXTURE_BLOCK, US_TEXTURE_BLOCK, check_full_or_rooted);
}
END_TEST

static int moved(const struct us_voicing *a, const struct us_voicing *b)
{
    return abs(a->pitch[0] - b->pitch[0]) + abs(a->pitch[1] - b->pitch[1]) + abs(a->pitch[2] - b->pitch[2]);
}

static bool has_parallel(const struct instance *i, const struct us_voicing *v)
{
    const struct us_voicing_context *c = &i->context;
    if (c->melody < 0 || c->melody == c->melody_before || v->pitch[0] == c->before.pitch[0]) return false;
    int was = us_pitch_class(c->melody_before - c->before.pitch[0]),
        is = us_pitch_class(c->melody - v->pitch[0]);
    return was == is && (is == 7 || is == 0);
}

static bool leaves_leading_note(const struct instance *i, const struct us_voicing *v)
{
    if (i->chord.root != i->key.tonic) return false;
    for (int n = 0; n < 3; n++) {
        int target = i->context.before.pitch[n] + 1;
        if (target % 12 != i->key.tonic) continue;
        return v->pitch[0] != target && v->pitch[1] != target && v->pitch[2] != target;
    }
    return false;
}

static void check_least_motion(const struct instance *i)
{
    if (__builtin_popcount(us_chord_tones(i->chord)) != 3 || i->context.before.count != 3 ||
        !all_tones_free(i))
        return;
    struct us_voicing room[64], v = us_texture_hand(US_TEXTURE_BLOCK, i->chord, &i->context);
    int count = all_triads(i, 11, room, 64);
    for (int r = 0; r < count; r++) {
        MUST(v.pitch[2] - v.pitch[0] < 12, WHERE, WHERE_ARGS(i)); /* close position where one exists */
        bool open_v = leaves_leading_note(i, &v), open_r = leaves_leading_note(i, &room[r]);
        MUST(open_v <= open_r, WHERE, WHERE_ARGS(i));
        if (open_v != open_r) continue;
        bool parallel_v = has_parallel(i, &v), parallel_r = has_parallel(i, &room[r]);
        MUST(parallel_v <= parallel_r, WHERE, WHERE_ARGS(i));
        if (parallel_v == parallel_r)
            MUST(moved(&i->context.before, &v) <= moved(&i->context.before, &room[r]), WHERE, WHERE_ARGS(i));
    }
}

/* Close position; 7 goes to 1; no parallel fifths or octaves with the bass where another inversion avoids
   them; then the least motion, so common notes are kept (harmony primers, from memory). */
START_TEST(voicing_moves_least)
{
    for_all(US_TEXTURE_BLOCK, US_TEXTURE_BLOCK, check_least_motion);
}
END_TEST

/* D G B to C E G under A going up to B: E G C would be the nearest but is parallel fifths, C E G the next but
   leaves B behind; G C E has neither fault. */
START_TEST(voicing_takes_seven_to_one)
{
    struct us_voicing_context context =
        context_of((struct us_key){0, US_MODE_MAJOR}, 83, 81, (struct us_voicing){3, {50, 55, 59}});
    struct us_voicing v = us_texture_hand(US_TEXTURE_BLOCK, (struct us_chord){0, US_CHORD_MAJ}, &context);
    ck_assert(v.count == 3 && v.pitch[0] == 55 && v.pitch[1] == 60 && v.pitch[2] == 64);
    context.melody_before = 79; /* no parallel now: the nearest */
    v = us_texture_hand(US_TEXTURE_BLOCK, (struct us_chord){0, US_CHORD_MAJ}, &context);
    ck_assert(v.count == 3 && v.pitch[0] == 52 && v.pitch[1] == 55 && v.pitch[2] == 60);
}
END_TEST

static void check_four_notes(const struct instance *i)
{
    if (__builtin_popcount(us_chord_tones(i->chord)) != 4 || !all_tones_free(i)) return;
    if (i->context.melody >= 0 && i->context.melody < 67) return;
    MUST(us_texture_hand(US_TEXTURE_BLOCK, i->chord, &i->context).count == 4, WHERE, WHERE_ARGS(i));
}

START_TEST(voicing_of_sevenths_has_four_notes_with_room)
{
    for_all(US_TEXTURE_BLOCK, US_TEXTURE_BLOCK, check_four_notes);
}
END_TEST

/* The order of thinning as the melody sinks under C: all, root and third, root alone. */
START_TEST(voicing_thins_the_fifth_first)
{
    static const struct {
        int melody;
        struct us_voicing want;
    } ROWS[] = {
        {57, {3, {48, 52, 55}}}, {55, {2, {48, 52}}}, {53, {1, {48}}} /* F clashes with E */,
        {51, {1, {48}}},         {50, {1, {48}}},     {48, {1, {36}}},
        {36, {0, {0}}},
    };
    struct us_key c = {0, US_MODE_MAJOR};
    for (size_t i = 0; i < sizeof ROWS / sizeof *ROWS; i++) {
        struct us_voicing_context context = context_of(c, ROWS[i].melody, 0, (struct us_voicing){0});
        struct us_voicing v = us_texture_hand(US_TEXTURE_BLOCK, (struct us_chord){0, US_CHORD_MAJ}, &context);
        ck_assert_msg(v.count == ROWS[i].want.count, "melody %d: %d notes", ROWS[i].melody, v.count);
        for (int n = 0; n < v.count; n++)
            ck_assert_int_eq(v.pitch[n], ROWS[i].want.pitch[n]);
    }
}
END_TEST

/* The semitone above a sounding tone is a clash, in any octave, and is not struck; the semitone below is a
 * major seventh. */
START_TEST(voicing_clashes)
{
    struct us_voicing c = {3, {48, 52, 55}};
    static const bool CLASH[12] = {[1] = true, [5] = true, [8] = true};
    for (int melody = 60; melody < 84; melody++) {
        struct us_voicing fit = us_texture_fit(c, melody);
        ck_assert_int_eq(fit.count, CLASH[melody % 12] ? 2 : 3);
    }
    ck_assert_int_eq(us_texture_fit(c, -1).count, 3);
    ck_assert_int_eq(us_texture_fit(c, 52).count, 1);
    ck_assert_int_eq(us_texture_fit(c, 48).count, 0);
}
END_TEST

/* A lowered third or seventh of the tune, as in the natural seventh over the V of minor, is not ground
   against the chord's own third: the hand is an open fifth (common practice, no source). */
START_TEST(voicing_gives_way_to_a_lowered_third)
{
    struct us_key e_minor = {4, US_MODE_MINOR};
    struct us_chord b_major = {11, US_CHORD_MAJ}, b_seventh = {11, US_CHORD_DOM7};
    struct us_voicing_context context = context_of(e_minor, 74 /* D */, -1, BEFORE[0]);
    for (int k = 0; k < 2; k++) {
        struct us_voicing v = us_texture_hand(US_TEXTURE_BLOCK, k ? b_seventh : b_major, &context);
        ck_assert_int_ge(v.count, 2);
        for (int i = 0; i < v.count; i++)
            ck_assert_int_ne(us_pitch_class(v.pitch[i]), 3 /* D sharp */);
    }
    context.melody = 78; /* F sharp: nothing in the way, the third is there */
    struct us_voicing v = us_texture_hand(US_TEXTURE_BLOCK, b_major, &context);
    ck_assert_int_eq(v.count, 3);
}
END_TEST

/* A second voice below the melody is respected in the same way: the hand is below both and clashes with
 * neither. */
START_TEST(voicing_respects_a_second_voice)
{
    struct us_key g = {7, US_MODE_MAJOR};
    for (int c = 0; c < KEY_CHORDS; c++)
        for (int t = 0; t < US_TEXTURES; t++)
            for (int melody = 60; melody < 84; melody++)
                for (int second = melody - 12; second < melody; second++) {
                    struct us_voicing_context context = context_of(g, melody, 0, BEFORE[1]);
                    context.second = second;
                    struct us_voicing v = us_texture_hand((enum us_texture)t, key_chord(g, c), &context);
                    for (int n = 0; n < v.count; n++)
                        MUST(v.pitch[n] < second, "melody %d second %d", melody, second);
                    MUST(!clashes(v, melody) && !clashes(v, second), "melody %d second %d", melody, second);
                }
    struct us_voicing_context context = context_of(g, 74, 0, BEFORE[0]);
    context.second = 66; /* the leading note: the hand leaves it out */
    struct us_voicing v = us_texture_hand(US_TEXTURE_BLOCK, (struct us_chord){2, US_CHORD_MAJ}, &context);
    ck_assert(v.count == 2 && v.pitch[0] % 12 == 2 && v.pitch[1] % 12 == 9);
}
END_TEST

int main(void)
{
    const TTest *const TESTS[] = {
        voicing_stays_below_the_melody_in_reach,
        voicing_keeps_the_low_interval_limits,
        voicing_never_clashes_or_doubles_the_leading_note,
        voicing_gives_way_to_a_lowered_third,
        voicing_is_complete_where_there_is_room,
        voicing_moves_least,
        voicing_takes_seven_to_one,
        voicing_of_sevenths_has_four_notes_with_room,
        voicing_thins_the_fifth_first,
        voicing_respects_a_second_voice,
        voicing_clashes,
    };
    return RUN_TESTS("voicing", TESTS);
}
