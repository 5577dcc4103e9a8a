#include "lesson.h"

#include <math.h>

/* ---- what must hold
 * ------------------------------------------------------------------------------------------- */

START_TEST(chord_is_struck_in_the_same_step_as_the_note)
{
    struct us_companion_settings s = plain("4/4", 0);
    struct lesson *l = begin(&s);
    l->now_ns = 1000000000;
    play_steps(l, 67, TUNE);
    for (int bar = 1; bar < 8; bar++) {
        int64_t at = 1000000000 + bar * 4LL * QUARTER_MS * 1000000;
        ck_assert_uint_eq(strikes_at(l, at, US_VOICE_MELODY), 1);
        ck_assert_uint_ge(strikes_at(l, at, US_VOICE_LEFT), 2);
    }
    leave(l);
    check_order(l);
    end(l);
}
END_TEST

enum { CHORDS_MAX = 64 };
static size_t chords_of(const struct lesson *l, struct us_action out[CHORDS_MAX])
{
    size_t count = 0;
    for (size_t i = 0; i < l->heard.count; i++)
        if (l->heard.list[i].kind == US_ACTION_CHORD) {
            ck_assert_uint_lt(count, CHORDS_MAX);
            out[count++] = l->heard.list[i];
        }
    return count;
}

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
    struct us_action chords[CHORDS_MAX];
    ck_assert_uint_ge(chords_of(l, chords), 3);
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

/* The left hand is softer than the melody, which is struck with 70 here. */
START_TEST(left_hand_is_softer_than_the_melody)
{
    struct us_companion_settings s = plain("4/4", 0);
    struct lesson *l = begin(&s);
    size_t struck = 0;
    play_steps(l, 67, TUNE);
    for (size_t i = 0; i < l->heard.count; i++) {
        const struct us_action *a = &l->heard.list[i];
        if (a->kind != US_ACTION_NOTE_ON) continue;
        if (a->voice == US_VOICE_MELODY) ck_assert_int_eq(a->velocity, 70);
        if (a->voice == US_VOICE_LEFT) ck_assert_int_lt(a->velocity, 70);
        struck += a->voice == US_VOICE_LEFT;
    }
    ck_assert_uint_gt(struck, 10);
    end(l);
}
END_TEST

/* The same chords at the same times, a fourth higher; the hand may lie otherwise. */
START_TEST(transposed_tune_gets_the_transposed_chords)
{
    struct us_companion_settings s = plain("4/4", 0);
    struct lesson *a = begin(&s), *b = begin(&s);
    play_steps(a, 67, TUNE);
    play_steps(b, 72, TUNE);
    struct us_action low[CHORDS_MAX], high[CHORDS_MAX];
    size_t count = chords_of(a, low);
    ck_assert_uint_ge(count, 3);
    ck_assert_uint_eq(chords_of(b, high), count);
    for (size_t i = 0; i < count; i++) {
        ck_assert_int_eq(low[i].at_ns, high[i].at_ns);
        ck_assert_int_eq(us_pitch_class(low[i].chord.root + 5), high[i].chord.root);
        ck_assert_int_eq(low[i].chord.kind, high[i].chord.kind);
    }
    end(a);
    end(b);
}
END_TEST

static bool bar_line_at(const struct lesson *l, int64_t at_ns)
{
    for (size_t i = 0; i < l->heard.count; i++) {
        const struct us_action *a = &l->heard.list[i];
        if (a->kind == US_ACTION_BEAT && a->bar && a->at_ns == at_ns) return true;
    }
    return false;
}

/* Broken off in mid-bar and begun again at once, `up` semitones higher: from the second bar line on bars are
   counted from there, and the key goes along. */
static void break_off_and_begin_again(int up)
{
    enum { BROKEN_OFF = 22 };
    static int first[BROKEN_OFF + 1];
    struct us_companion_settings s = plain("4/4", 0);
    struct lesson *l = begin(&s);
    struct us_snapshot now;
    memcpy(first, TUNE, BROKEN_OFF * sizeof *first);
    l->now_ns = 1000000000;
    play_steps(l, 67, first);
    int64_t again_ns = l->now_ns;
    play_steps(l, 67 + up, TUNE);
    for (int bar = 4; bar < 7; bar++)
        ck_assert_msg(bar_line_at(l, again_ns + bar * 4LL * QUARTER_MS * 1000000), "%d up, bar %d", up, bar);
    us_companion_snapshot(l->companion, &now);
    ck_assert_int_eq(now.key.tonic, (7 + up) % 12);
    leave(l);
    check_order(l);
    end(l);
}

START_TEST(going_back_at_once_is_followed)
{
    break_off_and_begin_again(0);
    break_off_and_begin_again(5);
    break_off_and_begin_again(-2);
}
END_TEST

START_TEST(left_hand_off_and_on)
{
    struct us_companion_settings s = plain("4/4", 0);
    struct lesson *l = begin(&s);
    play_steps(l, 67, TUNE);
    set_control(l, US_CONTROL_LEFT_HAND, 2);
    int64_t off = l->now_ns;
    play_steps(l, 67, TUNE);
    ck_assert_uint_eq(left_strikes_between(l, off, l->now_ns), 0);
    set_control(l, US_CONTROL_LEFT_HAND, 1);
    int64_t on = l->now_ns;
    play_steps(l, 67, TUNE);
    ck_assert_uint_gt(left_strikes_between(l, on - 1, l->now_ns), 10);
    leave(l);
    check_order(l);
    end(l);
}
END_TEST

/* What is remembered from another day; going on, only what is asked for anew changes it. */
START_TEST(begins_without_its_left_hand)
{
    struct us_companion_settings s = plain("4/4", 0);
    s.left_hand_off = true;
    struct lesson *l = begin(&s);
    play_steps(l, 67, TUNE);
    ck_assert_uint_eq(left_strikes_between(l, -1, l->now_ns), 0);
    set_control(l, US_CONTROL_LEFT_HAND, 1);
    leave(l);
    us_companion_go_on(l->companion, &s);
    int64_t on = l->now_ns;
    play_steps(l, 67, TUNE);
    ck_assert_uint_gt(left_strikes_between(l, on - 1, l->now_ns), 10);
    leave(l);
    struct us_companion_settings with = s;
    with.left_hand_off = false;
    us_companion_go_on(l->companion, &with);
    us_companion_go_on(l->companion, &s);
    int64_t off = l->now_ns;
    play_steps(l, 67, TUNE);
    ck_assert_uint_eq(left_strikes_between(l, off, l->now_ns), 0);
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

START_TEST(silence_after_panic_until_the_next_note)
{
    struct us_companion_settings s = plain("4/4", 0);
    struct lesson *l = begin(&s);
    play_steps(l, 67, TUNE);
    int64_t held_from = l->now_ns;
    send(l, (struct us_event){.at_ns = held_from, .kind = US_EVENT_NOTE_ON, .pitch = 67, .velocity = 70});
    send(l, (struct us_event){.at_ns = held_from + 1000000, .kind = US_EVENT_PANIC});
    wait_until(l, held_from + 8LL * QUARTER_MS * 1000000);
    ck_assert_uint_eq(left_strikes_between(l, held_from + 1000001, INT64_MAX), 0);
    int64_t again = l->now_ns;
    play_steps(l, 67, TUNE);
    ck_assert_uint_gt(left_strikes_between(l, again - 1, INT64_MAX), 10);
    leave(l);
    check_order(l);
    end(l);
}
END_TEST

START_TEST(key_lock_holds)
{
    struct us_companion_settings s = plain("4/4", 0);
    struct lesson *l = begin(&s);
    play_steps(l, 67, TUNE);
    set_control(l, US_CONTROL_KEY_LOCK, 1);
    play_steps(l, 62, TUNE);
    struct us_snapshot now;
    us_companion_snapshot(l->companion, &now);
    ck_assert(now.key_locked && now.key.tonic == 7);
    end(l);
}
END_TEST

/* With a locked key the notes are listened to after the answer: unlocked, the key is the one of all of them.
 */
START_TEST(what_was_played_under_a_lock_tells_the_key)
{
    struct us_companion_settings s = plain("4/4", 0);
    struct us_snapshot now[2];
    for (int locked = 0; locked < 2; locked++) {
        struct us_event unlock = {.kind = US_EVENT_CONTROL, .control = US_CONTROL_KEY_LOCK};
        s.key = locked ? (struct us_key){2, US_MODE_MAJOR} : (struct us_key){US_NO_KEY, US_MODE_MAJOR};
        struct lesson *l = begin(&s);
        play_steps(l, 67, TUNE);
        unlock.at_ns = l->now_ns;
        send(l, unlock);
        us_companion_snapshot(l->companion, &now[locked]);
        end(l);
    }
    ck_assert(now[0].key_sure > 0.5 && now[0].key_sure < 1);
    ck_assert(!(fabs(now[0].key_sure - now[1].key_sure) > 0));
}
END_TEST

/* Every left hand strikes in every bar and stays below the melody. */
START_TEST(each_texture_plays)
{
    struct us_companion_settings s = plain("4/4", 0);
    s.texture = (enum us_texture)_i;
    struct lesson *l = begin(&s);
    play_steps(l, 67, TUNE);
    for (int bar = 1; bar < 8; bar++) {
        int64_t at = bar * 4LL * QUARTER_MS * 1000000;
        ck_assert_msg(strikes_at(l, at, US_VOICE_LEFT) >= 1, "texture %d bar %d", _i, bar);
    }
    for (size_t i = 0; i < l->heard.count; i++)
        if (l->heard.list[i].kind == US_ACTION_NOTE_ON && l->heard.list[i].voice == US_VOICE_LEFT)
            ck_assert_int_lt(l->heard.list[i].pitch, 67);
    leave(l);
    check_order(l);
    end(l);
}
END_TEST

/* Heard in another key from now on: what sounds is released where it began, and nothing stays behind. */
START_TEST(sound_is_moved_while_playing)
{
    struct us_companion_settings s = plain("4/4", 0);
    struct lesson *l = begin(&s);
    play_steps(l, 67, TUNE);
    send(l, (struct us_event){.at_ns = l->now_ns, .kind = US_EVENT_NOTE_ON, .pitch = 67, .velocity = 70});
    size_t before = l->heard.count;
    set_control(l, US_CONTROL_SOUND_SHIFT, 5);
    bool released = false;
    for (size_t i = before; i < l->heard.count; i++)
        released = released || (l->heard.list[i].kind == US_ACTION_NOTE_OFF && l->heard.list[i].pitch == 67);
    ck_assert(released);
    send(l, (struct us_event){.at_ns = l->now_ns, .kind = US_EVENT_NOTE_OFF, .pitch = 67});
    before = l->heard.count;
    send(l, (struct us_event){.at_ns = l->now_ns, .kind = US_EVENT_NOTE_ON, .pitch = 67, .velocity = 70});
    bool moved = false;
    for (size_t i = before; i < l->heard.count; i++)
        moved = moved || (l->heard.list[i].kind == US_ACTION_NOTE_ON &&
                          l->heard.list[i].voice == US_VOICE_MELODY && l->heard.list[i].pitch == 72);
    ck_assert(moved);
    set_control(l, US_CONTROL_SOUND_SHIFT, 13);
    send(l, (struct us_event){.at_ns = l->now_ns, .kind = US_EVENT_NOTE_OFF, .pitch = 67});
    leave(l);
    check_order(l);
    end(l);
}
END_TEST

/* Another input or another sound must not make the companion forget the key, its lock and the page. */
START_TEST(goes_on_with_other_settings)
{
    struct us_companion_settings s = plain("4/4", 0), other;
    struct lesson *l = begin(&s);
    struct us_snapshot before, after;
    play_steps(l, 67, TUNE);
    set_control(l, US_CONTROL_KEY_LOCK, 1);
    send(l, (struct us_event){.at_ns = l->now_ns, .kind = US_EVENT_NOTE_ON, .pitch = 67, .velocity = 70});
    us_companion_snapshot(l->companion, &before);
    other = s;
    other.texture = US_TEXTURE_WALTZ;
    us_companion_go_on(l->companion, &other);
    us_companion_snapshot(l->companion, &after);
    ck_assert_int_eq(after.key.tonic, 7);
    ck_assert(after.key_locked);
    ck_assert_int_eq(after.texture, US_TEXTURE_WALTZ);
    ck_assert_int_gt(before.page.notes, 8);
    ck_assert_int_eq(after.page.notes, before.page.notes);
    ck_assert_int_eq(after.chord.root, before.chord.root);
    for (int i = 0; i < 16; i++)
        ck_assert_int_eq(after.melody_down[i] | after.left_down[i] | after.second_down[i], 0);
    size_t heard = l->heard.count;
    play_steps(l, 67, TUNE);
    ck_assert_uint_gt(left_strikes_between(l, l->heard.list[heard].at_ns - 1, l->now_ns), 10);
    us_companion_snapshot(l->companion, &after);
    ck_assert_int_eq(after.key.tonic, 7);
    leave(l);
    end(l);
}
END_TEST

/* Where chords change at bar lines they do so nowhere else, also where a note rubs against the root. */
START_TEST(chords_change_where_they_may)
{
    static const int LINE[] = {8, 7, 8, 9, 10, 11, 10, 9, 8, 7, 6, 7, 8, 7, 8, 8, 11, 10, 11, 12, 0};
    struct us_companion_settings s = plain("4/4", 0);
    s.change = US_CHANGE_BAR;
    ck_assert(us_key_parse("C", &s.key));
    struct lesson *l = begin(&s);
    play_steps(l, 60, LINE);
    for (size_t i = 0; i < l->heard.count; i++) {
        const struct us_action *a = &l->heard.list[i];
        if (a->kind == US_ACTION_CHORD) ck_assert_int_eq(a->at_ns % (4LL * QUARTER_MS * 1000000), 0);
    }
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
                                  left_hand_is_softer_than_the_melody,
                                  transposed_tune_gets_the_transposed_chords,
                                  going_back_at_once_is_followed,
                                  left_hand_off_and_on,
                                  begins_without_its_left_hand,
                                  panic_releases_all,
                                  silence_after_panic_until_the_next_note,
                                  key_lock_holds,
                                  what_was_played_under_a_lock_tells_the_key,
                                  sound_is_moved_while_playing,
                                  goes_on_with_other_settings,
                                  chords_change_where_they_may};
    return run_tests_and_case("companion", TESTS, sizeof TESTS / sizeof *TESTS, textures, US_TEXTURES);
}
