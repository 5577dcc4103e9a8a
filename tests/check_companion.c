#include "support.h"

#include <stdlib.h>
#include <string.h>

#include "undersong/companion.h"

/* ---- a player and a listener
 * ---------------------------------------------------------------------------------- */

enum { HEARD_MAX = 8192, QUARTER_MS = 600 };

struct heard {
    struct us_action list[HEARD_MAX];
    size_t count;
};

struct lesson {
    struct us_companion *companion;
    struct heard heard;
    int64_t now_ns;
};

static struct us_companion_settings plain(const char *metre, double pickup)
{
    struct us_companion_settings s = {.texture = US_TEXTURE_BLOCK,
                                      .chords = US_CHORDS_PRIMARY,
                                      .key = {US_NO_KEY, 0},
                                      .pickup = pickup,
                                      .share = 100};
    if (metre) ck_assert(us_metre_parse(metre, &s.metre));
    return s;
}

static struct lesson *begin(const struct us_companion_settings *settings)
{
    struct lesson *l = calloc(1, sizeof *l);
    l->companion = malloc(us_companion_size());
    us_companion_init(l->companion, settings);
    return l;
}

static void end(struct lesson *l)
{
    free(l->companion);
    free(l);
}

static void send(struct lesson *l, struct us_event event)
{
    struct us_actions actions;
    us_companion_step(l->companion, &event, &actions);
    for (uint32_t i = 0; i < actions.count; i++) {
        ck_assert_uint_lt(l->heard.count, HEARD_MAX);
        l->heard.list[l->heard.count++] = actions.list[i];
    }
}

/* Time goes on to `until_ns` with every tick that the companion asks for. */
static void wait_until(struct lesson *l, int64_t until_ns)
{
    for (int guard = 0; us_companion_due(l->companion) <= until_ns; guard++) {
        ck_assert_int_lt(guard, 10000);
        int64_t due = us_companion_due(l->companion);
        l->now_ns = due > l->now_ns ? due : l->now_ns;
        send(l, (struct us_event){.at_ns = l->now_ns, .kind = US_EVENT_TICK});
    }
    l->now_ns = until_ns;
}

static void play(struct lesson *l, int pitch, double quarters)
{
    int64_t start = l->now_ns;
    int64_t length = (int64_t)(quarters * QUARTER_MS * 1e6);
    send(l, (struct us_event){
                .at_ns = start, .kind = US_EVENT_NOTE_ON, .pitch = (uint8_t)pitch, .velocity = 70});
    wait_until(l, start + length * 9 / 10);
    send(l, (struct us_event){.at_ns = l->now_ns, .kind = US_EVENT_NOTE_OFF, .pitch = (uint8_t)pitch});
    wait_until(l, start + length - 1);
    l->now_ns = start + length;
}

/* A tune of quarters and halves: steps of the major scale above `home`, 0 ends; a negative step is a half
 * note. */
static void play_steps(struct lesson *l, int home, const int *steps)
{
    struct us_key c = {0, US_MODE_MAJOR};
    for (; *steps; steps++) {
        int step = abs(*steps);
        int pitch = home + us_mode_step_semitones((enum us_mode)c.mode, step) + 12 * ((step - 1) / 7);
        play(l, pitch, *steps < 0 ? 2 : 1);
    }
}

static void leave(struct lesson *l)
{
    wait_until(l, l->now_ns + 20000000000);
}

static size_t strikes_at(const struct lesson *l, int64_t at_ns, enum us_voice voice)
{
    size_t n = 0;
    for (size_t i = 0; i < l->heard.count; i++) {
        const struct us_action *a = &l->heard.list[i];
        n += a->kind == US_ACTION_NOTE_ON && a->voice == voice && a->at_ns == at_ns;
    }
    return n;
}

static size_t left_strikes_between(const struct lesson *l, int64_t from_ns, int64_t to_ns)
{
    size_t n = 0;
    for (size_t i = 0; i < l->heard.count; i++) {
        const struct us_action *a = &l->heard.list[i];
        n += a->kind == US_ACTION_NOTE_ON && a->voice == US_VOICE_LEFT && a->at_ns > from_ns &&
             a->at_ns < to_ns;
    }
    return n;
}

/* Each note-on has one note-off, time never runs back, the left hand stays below the melody that sounds. */
static void check_order(const struct lesson *l)
{
    int down[US_VOICES][US_PITCHES] = {0};
    int64_t last = 0;
    for (size_t i = 0; i < l->heard.count; i++) {
        const struct us_action *a = &l->heard.list[i];
        ck_assert_int_ge(a->at_ns, last);
        last = a->at_ns;
        if (a->kind == US_ACTION_NOTE_ON) {
            ck_assert_int_eq(down[a->voice][a->pitch], 0);
            down[a->voice][a->pitch] = 1;
        } else if (a->kind == US_ACTION_NOTE_OFF) {
            ck_assert_int_eq(down[a->voice][a->pitch], 1);
            down[a->voice][a->pitch] = 0;
        }
    }
    for (int v = 0; v < US_VOICES; v++)
        for (int p = 0; p < US_PITCHES; p++)
            ck_assert_int_eq(down[v][p], 0);
}

static const int TUNE[] = {1, 1, 2, 3, 5, 5, 3, 1, 4, 4, 6, 4, 5, 4, 3,  2,
                           1, 1, 2, 3, 5, 5, 3, 1, 4, 6, 5, 4, 3, 2, -1, 0};

/* ---- what must hold
 * ------------------------------------------------------------------------------------------- */

START_TEST(chord_is_struck_in_the_same_step_as_the_note)
{
    struct us_companion_settings s = plain("4/4", 0);
    struct lesson *l = begin(&s);
    l->now_ns = 1000000000;
    play_steps(l, 67, TUNE);
    for (int bar = 1; bar < 5; bar++) {
        int64_t at = 1000000000 + bar * 4LL * QUARTER_MS * 1000000;
        ck_assert_uint_eq(strikes_at(l, at, US_VOICE_MELODY), 1);
        ck_assert_uint_ge(strikes_at(l, at, US_VOICE_LEFT), 2);
    }
    leave(l);
    check_order(l);
    end(l);
}
END_TEST

START_TEST(key_is_found_and_marked)
{
    struct us_companion_settings s = plain("4/4", 0);
    struct lesson *l = begin(&s);
    play_steps(l, 67, TUNE);
    struct us_snapshot now;
    us_companion_snapshot(l->companion, &now);
    ck_assert_int_eq(now.key.tonic, 7);
    ck_assert_int_eq(now.key.mode, US_MODE_MAJOR);
    ck_assert_int_eq(now.chord.root, 7); /* ends on I: common practice, no source */
    size_t markers = 0;
    for (size_t i = 0; i < l->heard.count; i++)
        markers += l->heard.list[i].kind == US_ACTION_CHORD;
    ck_assert_uint_ge(markers, 3);
    end(l);
}
END_TEST

START_TEST(long_note_is_carried_by_the_tempo)
{
    static const int LONG[] = {1, 2, 3, 4, 5, 4, 3, 2, 1, 2, 3, 4, 0};
    struct us_companion_settings s = plain("4/4", 0);
    struct lesson *l = begin(&s);
    play_steps(l, 67, LONG);
    int64_t held_from = l->now_ns;
    play(l, 67, 8); /* two bars on one note: the second bar line comes by time */
    int64_t bar_line = held_from + 4LL * QUARTER_MS * 1000000;
    ck_assert_uint_ge(left_strikes_between(l, bar_line - 100000000, bar_line + 150000000), 2);
    leave(l);
    check_order(l);
    end(l);
}
END_TEST

START_TEST(waits_then_falls_silent_then_starts_again)
{
    struct us_companion_settings s = plain("4/4", 0);
    struct lesson *l = begin(&s);
    play_steps(l, 67, TUNE);
    int64_t stopped = l->now_ns;
    leave(l);
    size_t after = left_strikes_between(l, stopped + 4LL * QUARTER_MS * 1000000, INT64_MAX);
    ck_assert_uint_eq(after, 0);
    check_order(l); /* all released */
    int64_t again = l->now_ns;
    play_steps(l, 67, TUNE);
    ck_assert_uint_gt(left_strikes_between(l, again - 1, l->now_ns), 10);
    leave(l);
    check_order(l);
    end(l);
}
END_TEST

START_TEST(another_key_is_followed)
{
    struct us_companion_settings s = plain("4/4", 0);
    struct lesson *l = begin(&s);
    play_steps(l, 67, TUNE);
    leave(l);
    play_steps(l, 62, TUNE);
    struct us_snapshot now;
    us_companion_snapshot(l->companion, &now);
    ck_assert_int_eq(now.key.tonic, 2);
    end(l);
}
END_TEST

START_TEST(transposed_tune_gets_the_transposed_left_hand)
{
    struct us_companion_settings s = plain("4/4", 0);
    struct lesson *a = begin(&s), *b = begin(&s);
    play_steps(a, 67, TUNE);
    play_steps(b, 72, TUNE);
    size_t i = 0, j = 0, chords = 0;
    while (i < a->heard.count && j < b->heard.count) {
        if (a->heard.list[i].kind != US_ACTION_CHORD)
            i++;
        else if (b->heard.list[j].kind != US_ACTION_CHORD)
            j++;
        else {
            ck_assert_int_eq(a->heard.list[i].at_ns, b->heard.list[j].at_ns);
            ck_assert_int_eq(us_pitch_class(a->heard.list[i].chord.root + 5), b->heard.list[j].chord.root);
            i++, j++, chords++;
        }
    }
    ck_assert_uint_ge(chords, 3);
    end(a);
    end(b);
}
END_TEST

START_TEST(left_hand_off_and_on)
{
    struct us_companion_settings s = plain("4/4", 0);
    struct lesson *l = begin(&s);
    play_steps(l, 67, TUNE);
    send(l, (struct us_event){
                .at_ns = l->now_ns, .kind = US_EVENT_CONTROL, .control = US_CONTROL_LEFT_HAND, .value = 2});
    int64_t off = l->now_ns;
    play_steps(l, 67, TUNE);
    ck_assert_uint_eq(left_strikes_between(l, off, l->now_ns), 0);
    send(l, (struct us_event){
                .at_ns = l->now_ns, .kind = US_EVENT_CONTROL, .control = US_CONTROL_LEFT_HAND, .value = 1});
    int64_t on = l->now_ns;
    play_steps(l, 67, TUNE);
    ck_assert_uint_gt(left_strikes_between(l, on - 1, l->now_ns), 10);
    leave(l);
    check_order(l);
    end(l);
}
END_TEST

START_TEST(panic_releases_all)
{
    struct us_companion_settings s = plain("4/4", 0);
    struct lesson *l = begin(&s);
    for (int pitch = 0; pitch < 128; pitch++)
        send(l, (struct us_event){.at_ns = pitch * 1000000LL,
                                  .kind = US_EVENT_NOTE_ON,
                                  .pitch = (uint8_t)pitch,
                                  .velocity = 1});
    send(l, (struct us_event){.at_ns = 200000000, .kind = US_EVENT_PANIC});
    check_order(l);
    size_t all_off = 0;
    for (size_t i = 0; i < l->heard.count; i++)
        all_off += l->heard.list[i].kind == US_ACTION_ALL_OFF;
    ck_assert_uint_eq(all_off, US_VOICES);
    end(l);
}
END_TEST

START_TEST(key_lock_holds)
{
    struct us_companion_settings s = plain("4/4", 0);
    struct lesson *l = begin(&s);
    play_steps(l, 67, TUNE);
    send(l, (struct us_event){
                .at_ns = l->now_ns, .kind = US_EVENT_CONTROL, .control = US_CONTROL_KEY_LOCK, .value = 1});
    play_steps(l, 62, TUNE);
    struct us_snapshot now;
    us_companion_snapshot(l->companion, &now);
    ck_assert(now.key_locked && now.key.tonic == 7);
    end(l);
}
END_TEST

/* Every left hand strikes in every bar and stays below the melody. */
START_TEST(each_texture_plays)
{
    struct us_companion_settings s = plain("4/4", 0);
    s.texture = (enum us_texture)_i;
    struct lesson *l = begin(&s);
    play_steps(l, 67, TUNE);
    for (int bar = 1; bar < 5; bar++) {
        int64_t at = bar * 4LL * QUARTER_MS * 1000000;
        ck_assert_msg(strikes_at(l, at, US_VOICE_LEFT) >= 1, "%s bar %d", us_texture_name(s.texture), bar);
    }
    for (size_t i = 0; i < l->heard.count; i++)
        if (l->heard.list[i].kind == US_ACTION_NOTE_ON && l->heard.list[i].voice == US_VOICE_LEFT)
            ck_assert_int_lt(l->heard.list[i].pitch, 67);
    leave(l);
    check_order(l);
    end(l);
}
END_TEST

int main(void)
{
    TCase *textures = tcase_create("textures");
    tcase_add_loop_test(textures, each_texture_plays, 0, US_TEXTURES);
    const TTest *const TESTS[] = {chord_is_struck_in_the_same_step_as_the_note,
                                  key_is_found_and_marked,
                                  long_note_is_carried_by_the_tempo,
                                  waits_then_falls_silent_then_starts_again,
                                  another_key_is_followed,
                                  transposed_tune_gets_the_transposed_left_hand,
                                  left_hand_off_and_on,
                                  panic_releases_all,
                                  key_lock_holds};
    return run_tests_and_case("companion", TESTS, sizeof TESTS / sizeof *TESTS, textures, US_TEXTURES);
}
