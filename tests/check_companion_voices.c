/* The companion with more than one left hand and one melody: a second voice, the learner's own left hand,
   drills, and sounding in another key. */
#include "lesson.h"

#include "undersong/transpose.h"

static const int64_t BAR_NS = 4LL * QUARTER_MS * 1000000;

static size_t count_of(const struct lesson *l, enum us_action_kind kind, enum us_voice voice, int64_t from_ns,
                       int64_t to_ns)
{
    size_t n = 0;
    for (size_t i = 0; i < l->heard.count; i++) {
        const struct us_action *a = &l->heard.list[i];
        n += a->kind == kind && a->voice == voice && a->at_ns >= from_ns && a->at_ns < to_ns;
    }
    return n;
}

static const struct us_action *last_of(const struct lesson *l, enum us_action_kind kind)
{
    const struct us_action *found = NULL;
    for (size_t i = 0; i < l->heard.count; i++)
        if (l->heard.list[i].kind == kind) found = &l->heard.list[i];
    return found;
}

static void key_event(struct lesson *l, int pitch, bool down)
{
    send(l, (struct us_event){.at_ns = l->now_ns,
                              .kind = down ? US_EVENT_NOTE_ON : US_EVENT_NOTE_OFF,
                              .pitch = (uint8_t)pitch,
                              .velocity = down ? 60 : 0});
}

/* ---- duets */

/* Each melody note has its companion in the same step, below it, and mostly at the distance that was asked
 * for.
 */
START_TEST(duet_sounds_with_the_melody)
{
    struct us_companion_settings s = plain("4/4", 0);
    s.second_voice = _i ? US_SECOND_SIXTH : US_SECOND_THIRD;
    ck_assert(us_key_parse("G", &s.key));
    struct lesson *l = begin(&s);
    play_steps(l, 67, TUNE);
    leave(l);
    check_order(l);
    size_t melody = 0, second = 0, as_asked = 0;
    int top = -1, least = _i ? 8 : 3;
    for (size_t i = 0; i < l->heard.count; i++) {
        const struct us_action *a = &l->heard.list[i];
        if (a->kind != US_ACTION_NOTE_ON) continue;
        if (a->voice == US_VOICE_MELODY) top = a->pitch, melody++;
        if (a->voice != US_VOICE_SECOND) continue;
        second++;
        ck_assert_int_lt(a->velocity, 70); /* softer than the melody */
        ck_assert_uint_ge(strikes_at(l, a->at_ns, US_VOICE_MELODY), 1);
        ck_assert(top - a->pitch >= 3 && top - a->pitch <= 9);
        as_asked += top - a->pitch == least || top - a->pitch == least + 1;
    }
    ck_assert_uint_ge(second, melody * 9 / 10);
    ck_assert_uint_gt(as_asked, second / 2);
    end(l);
}
END_TEST

/* The left hand keeps below the second voice as below the melody, whichever of the two is struck first. */
START_TEST(left_hand_stays_below_the_duet)
{
    struct us_companion_settings s = plain("4/4", 0);
    s.second_voice = _i ? US_SECOND_SIXTH : US_SECOND_THIRD;
    struct lesson *l = begin(&s);
    play_steps(l, 67, TUNE);
    bool down[US_PITCHES] = {false};
    size_t struck = 0;
    int64_t struck_ns = -1;
    int highest = -1; /* of the left hand's keys that were struck at that moment */
    for (size_t i = 0; i < l->heard.count; i++) {
        const struct us_action *a = &l->heard.list[i];
        bool on = a->kind == US_ACTION_NOTE_ON;
        if (!on && a->kind != US_ACTION_NOTE_OFF) continue;
        if (a->voice == US_VOICE_SECOND) down[a->pitch] = on;
        if (!on) continue;
        if (a->at_ns != struck_ns) struck_ns = a->at_ns, highest = -1;
        if (a->voice == US_VOICE_SECOND) ck_assert_int_lt(highest, a->pitch);
        if (a->voice != US_VOICE_LEFT) continue;
        highest = a->pitch > highest ? a->pitch : highest;
        for (int p = 0; p <= a->pitch; p++)
            ck_assert_msg(!down[p], "left hand %d over %d", a->pitch, p);
        struck++;
    }
    ck_assert_uint_ge(struck, 18);
    end(l);
}
END_TEST

/* ---- melodies of more than one key at a time */

/* Low two-note grips, in either order, and one held over a bar line that comes by time: whenever a grip is
   complete the left hand is below its lower note. */
START_TEST(left_hand_stays_below_a_melody_in_two_voices)
{
    struct us_companion_settings s = plain("4/4", 0);
    ck_assert(us_key_parse("G", &s.key));
    struct lesson *l = begin(&s);
    static const int GRIPS[][2] = {{67, 59}, {71, 62}, {60, 69}, {59, 67},
                                   {66, 57}, {69, 60}, {59, 67}, {71, 62}};
    int64_t complete_ns[64];
    int lower[64];
    for (int i = 0; i < 33; i++) {
        const int *grip = GRIPS[i % 8];
        int quarters = i < 32 ? 1 : 8;
        key_event(l, grip[0], true);
        wait_until(l, l->now_ns + 12000000);
        key_event(l, grip[1], true);
        complete_ns[i] = l->now_ns;
        lower[i] = grip[0] < grip[1] ? grip[0] : grip[1];
        wait_until(l, l->now_ns + quarters * QUARTER_MS * 1000000LL - 62000000);
        key_event(l, grip[0], false);
        key_event(l, grip[1], false);
        wait_until(l, l->now_ns + 50000000);
    }
    bool down[US_PITCHES] = {false};
    size_t at = 0, by_time = 0;
    for (size_t i = 0; i < l->heard.count; i++) {
        const struct us_action *a = &l->heard.list[i];
        for (; at < 33 && complete_ns[at] < a->at_ns; at++)
            for (int p = lower[at]; p < US_PITCHES; p++)
                ck_assert_msg(!down[p], "left hand %d over %d in grip %zu", p, lower[at], at);
        if (a->voice != US_VOICE_LEFT || (a->kind != US_ACTION_NOTE_ON && a->kind != US_ACTION_NOTE_OFF))
            continue;
        down[a->pitch] = a->kind == US_ACTION_NOTE_ON;
        if (at < 33 || a->kind != US_ACTION_NOTE_ON) continue;
        by_time++;
        ck_assert_int_lt(a->pitch, lower[32]);
    }
    ck_assert_uint_eq(at, 33);
    ck_assert_uint_ge(by_time, 1);
    end(l);
}
END_TEST

/* Downwards in legato: C is still down for a moment when B comes on the bar line; the chord is G B D, as for
 * B alone. */
START_TEST(key_about_to_be_let_go_does_not_thin_the_chord)
{
    struct us_companion_settings s = plain("4/4", 0);
    ck_assert(us_key_parse("G", &s.key));
    struct lesson *l = begin(&s);
    static const int NOTES[] = {71, 67, 71, 72};
    int64_t bar_ns = 0;
    for (int i = 0; i < 17; i++) {
        if (i % 4 == 0) bar_ns = l->now_ns;
        key_event(l, NOTES[i % 4], true);
        wait_until(l, l->now_ns + 30000000);
        if (i) key_event(l, NOTES[(i - 1) % 4], false);
        wait_until(l, l->now_ns + QUARTER_MS * 1000000LL - 30000000);
    }
    ck_assert_uint_eq(strikes_at(l, bar_ns, US_VOICE_LEFT), 3);
    end(l);
}
END_TEST

/* ---- rounds */

/* The melody comes back two bars later, note for note, where the player keeps time. */
START_TEST(round_answers_two_bars_later)
{
    struct us_companion_settings s = plain("4/4", 0);
    s.second_voice = US_SECOND_ROUND;
    s.round_bars = 2;
    struct lesson *l = begin(&s);
    play_steps(l, 67, TUNE);
    int64_t played = l->now_ns;
    leave(l);
    check_order(l);
    size_t answered = 0;
    for (size_t i = 0; i < l->heard.count; i++) {
        const struct us_action *a = &l->heard.list[i];
        if (a->kind != US_ACTION_NOTE_ON || a->voice != US_VOICE_MELODY || a->at_ns + 2 * BAR_NS >= played)
            continue;
        bool found = false;
        for (size_t j = i; j < l->heard.count && !found; j++) {
            const struct us_action *b = &l->heard.list[j];
            int64_t late = b->at_ns - a->at_ns - 2 * BAR_NS;
            found = b->kind == US_ACTION_NOTE_ON && b->voice == US_VOICE_SECOND && b->pitch == a->pitch &&
                    late > -40000000 && late < 40000000;
        }
        ck_assert_msg(found, "note %zu at %.2f s", i, (double)a->at_ns / 1e9);
        answered++;
    }
    ck_assert_uint_ge(answered, 20);
    ck_assert_uint_eq(count_of(l, US_ACTION_NOTE_ON, US_VOICE_SECOND, 0, 2 * BAR_NS - 50000000), 0);
    end(l);
}
END_TEST

/* The player stops in the middle: so does the answer; it goes on with the player, and starts over with them.
 */
START_TEST(round_waits_with_the_player)
{
    static const int HALF[] = {1, 1, 2, 3, 5, 5, 3, 1, 4, 4, 6, 4, 0};
    struct us_companion_settings s = plain("4/4", 0);
    s.second_voice = US_SECOND_ROUND;
    s.round_bars = 2;
    struct lesson *l = begin(&s);
    play_steps(l, 67, HALF);
    int64_t stopped = l->now_ns;
    leave(l);
    ck_assert_uint_eq(count_of(l, US_ACTION_NOTE_ON, US_VOICE_SECOND, stopped + BAR_NS * 9 / 4, INT64_MAX),
                      0);
    check_order(l);
    int64_t again = l->now_ns;
    play_steps(l, 67, TUNE);
    ck_assert_uint_eq(count_of(l, US_ACTION_NOTE_ON, US_VOICE_SECOND, again, again + 2 * BAR_NS - 50000000),
                      0);
    ck_assert_uint_ge(count_of(l, US_ACTION_NOTE_ON, US_VOICE_SECOND, again, l->now_ns), 15);
    leave(l);
    check_order(l);
    end(l);
}
END_TEST

/* A tune of chromatic chance has no entry, and that is said once. */
START_TEST(round_auto_says_when_nothing_fits)
{
    struct us_companion_settings s = plain("4/4", 0);
    s.second_voice = US_SECOND_ROUND;
    struct lesson *l = begin(&s);
    unsigned random = 1;
    for (int i = 0; i < 24 * 4; i++) {
        random = random * 1103515245u + 12345u;
        play(l, 60 + (int)(random >> 16) % 13, 1);
    }
    ck_assert_uint_eq(count_of(l, US_ACTION_ROUND, US_VOICE_SECOND, 0, INT64_MAX), 1);
    ck_assert_int_eq(last_of(l, US_ACTION_ROUND)->value, 0);
    struct us_snapshot now;
    us_companion_snapshot(l->companion, &now);
    ck_assert_int_eq(now.round_state, US_ROUND_FITS_NOWHERE);
    end(l);
}
END_TEST

/* A short tune that is over before sixteen bars are heard: that nothing fits is said when the player stops.
 */
START_TEST(round_auto_says_so_after_a_short_tune)
{
    for (int bars = 4; bars <= 12; bars += 8) {
        struct us_companion_settings s = plain("4/4", 0);
        s.second_voice = US_SECOND_ROUND;
        struct lesson *l = begin(&s);
        unsigned random = 1;
        for (int i = 0; i < bars * 4; i++) {
            random = random * 1103515245u + 12345u;
            play(l, 60 + (int)(random >> 16) % 13, 1);
        }
        ck_assert_ptr_null(last_of(l, US_ACTION_ROUND));
        leave(l);
        if (bars < 8)
            ck_assert_ptr_null(last_of(l, US_ACTION_ROUND)); /* too little to tell */
        else
            ck_assert(last_of(l, US_ACTION_ROUND) && last_of(l, US_ACTION_ROUND)->value == 0);
        end(l);
    }
}
END_TEST

/* A made-up four-phrase round, two bars a phrase, in steps of the scale: it is found while it is played
 * twice. */
START_TEST(round_auto_finds_the_entry)
{
    static const int ROUND[] = {8,  9,  10, 8,  9,  7,  -8,  10,  11,  12, 10, 11,  9, -10,
                                15, 16, 17, 15, 16, 14, -15, -12, -12, 14, 16, -12, 0};
    struct us_companion_settings s = plain("4/4", 0);
    s.second_voice = US_SECOND_ROUND;
    struct lesson *l = begin(&s);
    for (int turn = 0; turn < 2; turn++)
        play_steps(l, 60, ROUND);
    ck_assert_ptr_nonnull(last_of(l, US_ACTION_ROUND));
    ck_assert_int_eq(last_of(l, US_ACTION_ROUND)->value, 2);
    ck_assert_uint_ge(count_of(l, US_ACTION_NOTE_ON, US_VOICE_SECOND, 0, INT64_MAX), 15);
    leave(l);
    check_order(l);
    end(l);
}
END_TEST

/* ---- the shared left hand */

/* One bar of four quarters, with the learner's chord on its first note. */
static void bar_with_chord(struct lesson *l, const int *steps, int home, const int *chord)
{
    int bar[5] = {steps[0], steps[1], steps[2], steps[3], 0};
    for (const int *p = chord; p && *p; p++)
        key_event(l, *p, true);
    play_steps(l, home, bar);
    for (const int *p = chord; p && *p; p++)
        key_event(l, *p, false);
}

static const int ON_I[] = {1, 3, 5, 3}, ON_V[] = {2, 7, 5, 2};
static const int G_CHORD[] = {43, 50, 0}, D_CHORD[] = {45, 50, 54, 0}, WRONG[] = {44, 49, 0};

static struct us_companion_settings shared(int share)
{
    struct us_companion_settings s = plain("4/4", 0);
    s.share = share;
    s.change = US_CHANGE_BAR;
    ck_assert(us_key_parse("G", &s.key));
    return s;
}

/* Silent while the learner plays, in again at the second bar line without a chord, and the verdicts are
 * right. */
START_TEST(learner_takes_over_and_hands_back)
{
    struct us_companion_settings s = shared(90);
    struct lesson *l = begin(&s);
    for (int bar = 0; bar < 2; bar++)
        bar_with_chord(l, ON_I, 67, NULL);
    ck_assert_uint_ge(count_of(l, US_ACTION_NOTE_ON, US_VOICE_LEFT, 0, l->now_ns), 6);
    for (int bar = 0; bar < 4; bar++)
        bar_with_chord(l, bar % 2 ? ON_V : ON_I, 67, bar % 2 ? D_CHORD : G_CHORD);
    int64_t dropped = l->now_ns;
    ck_assert_uint_eq(count_of(l, US_ACTION_NOTE_ON, US_VOICE_LEFT, 2 * BAR_NS + 1, dropped - 1000000), 0);
    bar_with_chord(l, ON_I, 67, NULL);
    ck_assert_uint_eq(count_of(l, US_ACTION_NOTE_ON, US_VOICE_LEFT, dropped, l->now_ns - 50000000), 0);
    bar_with_chord(l, ON_I, 67, NULL);
    ck_assert_uint_ge(count_of(l, US_ACTION_NOTE_ON, US_VOICE_LEFT, dropped + BAR_NS - 50000000, l->now_ns),
                      2);
    size_t fits = 0;
    for (size_t i = 0; i < l->heard.count; i++)
        fits += l->heard.list[i].kind == US_ACTION_VERDICT && l->heard.list[i].value == US_FIT_YES;
    ck_assert_uint_eq(fits, 4);
    leave(l);
    check_order(l);
    end(l);
}
END_TEST

START_TEST(learner_is_told_what_would_fit)
{
    struct us_companion_settings s = shared(90);
    struct lesson *l = begin(&s);
    bar_with_chord(l, ON_I, 67, NULL);
    bar_with_chord(l, ON_I, 67, WRONG);
    bar_with_chord(l, ON_I, 67, NULL);
    struct us_snapshot now;
    us_companion_snapshot(l->companion, &now);
    size_t wrong = 0;
    for (size_t i = 0; i < l->heard.count; i++)
        wrong += l->heard.list[i].kind == US_ACTION_VERDICT && l->heard.list[i].value == US_FIT_NO;
    ck_assert_uint_eq(wrong, 1);
    end(l);
}
END_TEST

START_TEST(share_of_nothing_and_of_all)
{
    for (int all = 0; all < 2; all++) {
        struct us_companion_settings s = shared(all ? 100 : 0);
        struct lesson *l = begin(&s);
        for (int bar = 0; bar < 6; bar++)
            bar_with_chord(l, ON_I, 67, NULL);
        size_t struck = count_of(l, US_ACTION_NOTE_ON, US_VOICE_LEFT, 0, INT64_MAX);
        ck_assert(all ? struck >= 18 : struck == 0);
        end(l);
    }
}
END_TEST

/* auto: the program plays less as the learner gets the chords. */
START_TEST(share_auto_hands_over)
{
    struct us_companion_settings s = shared(US_SHARE_AUTO);
    struct lesson *l = begin(&s);
    struct us_snapshot now;
    for (int bar = 0; bar < 30; bar++)
        bar_with_chord(l, bar % 2 ? ON_V : ON_I, 67, bar % 2 ? D_CHORD : G_CHORD);
    us_companion_snapshot(l->companion, &now);
    ck_assert_int_le(now.share_level, 20);
    leave(l);
    check_order(l);
    end(l);
}
END_TEST

/* ---- drills and other keys */

START_TEST(drill_leads_round_the_keys)
{
    struct us_companion_settings s = plain("4/4", 0);
    ck_assert(us_drill_parse("G,D", &s.drill, NULL));
    struct lesson *l = begin(&s);
    struct us_snapshot now;
    play_steps(l, 67, TUNE);
    leave(l);
    ck_assert_int_eq(last_of(l, US_ACTION_DRILL)->value, US_DRILL_NEXT);
    ck_assert_int_eq(last_of(l, US_ACTION_DRILL)->key.tonic, 2);
    play_steps(l, 65, TUNE); /* in F instead */
    leave(l);
    ck_assert_int_eq(last_of(l, US_ACTION_DRILL)->value, US_DRILL_AGAIN);
    play_steps(l, 62, TUNE);
    leave(l);
    ck_assert_int_eq(last_of(l, US_ACTION_DRILL)->value, US_DRILL_DONE);
    us_companion_snapshot(l->companion, &now);
    ck_assert(now.drill_asked.tonic == 7 && now.drill_next.tonic == 2);
    end(l);
}
END_TEST

/* Heard in another key: every note, chord and key of the answer is moved, and nothing else is changed. */
START_TEST(sounds_in_another_key)
{
    struct us_companion_settings s = plain("4/4", 0);
    s.second_voice = US_SECOND_THIRD;
    struct lesson *as_played = begin(&s);
    s.sound_shift = _i;
    struct lesson *moved = begin(&s);
    play_steps(as_played, 67, TUNE);
    play_steps(moved, 67, TUNE);
    leave(as_played);
    leave(moved);
    check_order(moved);
    ck_assert_uint_eq(as_played->heard.count, moved->heard.count);
    for (size_t i = 0; i < moved->heard.count; i++) {
        const struct us_action *a = &as_played->heard.list[i], *b = &moved->heard.list[i];
        ck_assert(a->at_ns == b->at_ns && a->kind == b->kind && a->voice == b->voice);
        if (a->kind == US_ACTION_NOTE_ON || a->kind == US_ACTION_NOTE_OFF)
            ck_assert_int_eq(a->pitch + _i, b->pitch);
        if (a->kind == US_ACTION_CHORD) ck_assert_int_eq(us_pitch_class(a->chord.root + _i), b->chord.root);
        if (a->kind == US_ACTION_KEY) ck_assert_int_eq(us_pitch_class(a->key.tonic + _i), b->key.tonic);
    }
    struct us_snapshot now;
    us_companion_snapshot(moved->companion, &now);
    ck_assert_int_eq(now.key.tonic, 7); /* the view speaks of the keys that are pressed */
    end(as_played);
    end(moved);
}
END_TEST

/* What no keyboard has is left out, on and off alike. */
START_TEST(sounding_key_stays_on_the_keyboard)
{
    struct us_companion_settings s = plain("4/4", 0);
    s.sound_shift = 11;
    struct lesson *l = begin(&s);
    play(l, 127, 1);
    play(l, 116, 1);
    leave(l);
    check_order(l);
    ck_assert_uint_eq(count_of(l, US_ACTION_NOTE_ON, US_VOICE_MELODY, 0, INT64_MAX), 1);
    end(l);
}
END_TEST

/* A keyboard that adds three semitones: middle C sounds, again with each key that the player tries until A
   below it is found;
   from then on all sounds three semitones higher, as the keyboard itself does. */
START_TEST(keyboard_is_matched_by_ear)
{
    struct us_companion_settings s = plain("4/4", 0);
    s.match_keyboard = true;
    struct lesson *l = begin(&s);
    wait_until(l, 1000000);
    ck_assert_uint_eq(count_of(l, US_ACTION_NOTE_ON, US_VOICE_SECOND, 0, INT64_MAX), 1);
    static const int TRIES[] = {60, 59, 57, 57};
    for (size_t i = 0; i < sizeof TRIES / sizeof *TRIES; i++) {
        ck_assert_ptr_null(last_of(l, US_ACTION_TRANSPOSE));
        ck_assert_uint_eq(count_of(l, US_ACTION_NOTE_ON, US_VOICE_SECOND, 0, INT64_MAX), 1 + i);
        play(l, TRIES[i], 1);
    }
    ck_assert_int_eq(last_of(l, US_ACTION_TRANSPOSE)->value, 3);
    ck_assert_uint_eq(count_of(l, US_ACTION_NOTE_ON, US_VOICE_SECOND, 0, INT64_MAX), 4);
    ck_assert_uint_eq(count_of(l, US_ACTION_NOTE_ON, US_VOICE_MELODY, 0, INT64_MAX), 0);
    play(l, 60, 1);
    for (size_t i = 0; i < l->heard.count; i++)
        if (l->heard.list[i].kind == US_ACTION_NOTE_ON && l->heard.list[i].voice == US_VOICE_MELODY)
            ck_assert_int_eq(l->heard.list[i].pitch, 63);
    leave(l);
    check_order(l);
    end(l);
}
END_TEST

/* Any keys in any order with everything switched on: each note that begins ends, and time never runs back. */
START_TEST(random_players_leave_nothing_ringing)
{
    srand(11);
    for (int turn = 0; turn < 40; turn++) {
        struct us_companion_settings s = plain(turn % 3 ? "4/4" : NULL, turn % 3 ? 0 : -1);
        s.second_voice = (enum us_second_voice)(turn % 4);
        s.round_bars = turn % 5 < 3 ? turn % 5 : 0;
        s.share = turn % 2 ? US_SHARE_AUTO : 20 * (turn % 6);
        s.texture = (enum us_texture)(turn % US_TEXTURES);
        s.sound_shift = turn % 7 - 3;
        ck_assert(us_drill_parse("C,G,F", &s.drill, NULL));
        struct lesson *l = begin(&s);
        for (int i = 0; i < 300; i++) {
            int pitch = 36 + rand() % 60;
            key_event(l, pitch, rand() % 2);
            if (rand() % 50 == 0)
                set_control(l, (enum us_control)(rand() % (US_CONTROL_TAP + 1)), rand() % 5);
            if (rand() % 3) wait_until(l, l->now_ns + (1 + rand() % 8) * 100000000LL);
        }
        send(l, (struct us_event){.at_ns = l->now_ns, .kind = US_EVENT_PANIC});
        check_notes_end(l);
        end(l);
    }
}
END_TEST

int main(void)
{
    TCase *loops = tcase_create("loops");
    tcase_add_loop_test(loops, duet_sounds_with_the_melody, 0, 2);
    tcase_add_loop_test(loops, left_hand_stays_below_the_duet, 0, 2);
    tcase_add_loop_test(loops, sounds_in_another_key, -5, 7);
    const TTest *const TESTS[] = {
        left_hand_stays_below_a_melody_in_two_voices,
        key_about_to_be_let_go_does_not_thin_the_chord,
        round_answers_two_bars_later,
        round_waits_with_the_player,
        round_auto_says_when_nothing_fits,
        round_auto_says_so_after_a_short_tune,
        round_auto_finds_the_entry,
        learner_takes_over_and_hands_back,
        learner_is_told_what_would_fit,
        share_of_nothing_and_of_all,
        share_auto_hands_over,
        drill_leads_round_the_keys,
        sounding_key_stays_on_the_keyboard,
        keyboard_is_matched_by_ear,
        random_players_leave_nothing_ringing,
    };
    return run_tests_and_case("companion voices", TESTS, sizeof TESTS / sizeof *TESTS, loops, 2 + 2 + 12);
}
