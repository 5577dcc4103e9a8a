/* What a companion keeps and what it forgets: a tune that is known, keys that are down, what a control sets.
   The tune is made up for this test. */
#include "lesson.h"

/* A round of two-bar phrases: it goes with itself two bars later. */
static const int ROUND[] = {8,  9,  10, 8,  9,  7,  -8,  10,  11,  12, 10, 11,  9, -10,
                            15, 16, 17, 15, 16, 14, -15, -12, -12, 14, 16, -12, 0};
enum { ROUND_NOTES = sizeof ROUND / sizeof *ROUND - 1 };
static const int64_t BAR_NS = 4LL * QUARTER_MS * 1000000;

struct known {
    struct us_note notes[ROUND_NOTES];
    struct us_chord_span chord;
    struct us_score score;
};

static int pitch_of(int step)
{
    return 60 + us_mode_step_semitones(US_MODE_MAJOR, step) + 12 * ((step - 1) / 7);
}

/* `other`: a tune of one note over and over, which goes with itself only in unison. */
static void know(struct known *k, const char *title, bool other)
{
    memset(k, 0, sizeof *k);
    double at = 0;
    for (int i = 0; i < ROUND_NOTES; i++) {
        double len = ROUND[i] < 0 ? 2 : 1;
        k->notes[i] = (struct us_note){at, len, (int16_t)(other ? 60 : pitch_of(abs(ROUND[i]))), 70};
        at += len;
    }
    k->chord = (struct us_chord_span){0, at, {0, US_CHORD_MAJ}};
    struct us_tune tune = {.notes = k->notes,
                           .note_count = ROUND_NOTES,
                           .chords = &k->chord,
                           .chord_count = 1,
                           .key = {0, US_MODE_MAJOR},
                           .metre = {4, 4},
                           .title = title};
    ck_assert(us_score_init(&k->score, &tune));
}

static void control(struct lesson *l, enum us_control what, int value)
{
    send(l, (struct us_event){
                .at_ns = l->now_ns, .kind = US_EVENT_CONTROL, .control = (uint8_t)what, .value = value});
}

static void key(struct lesson *l, int pitch, bool down)
{
    send(l, (struct us_event){.at_ns = l->now_ns,
                              .kind = down ? US_EVENT_NOTE_ON : US_EVENT_NOTE_OFF,
                              .pitch = (uint8_t)pitch,
                              .velocity = down ? 70 : 0});
}

static struct us_snapshot look(const struct lesson *l)
{
    struct us_snapshot now;
    us_companion_snapshot(l->companion, &now);
    return now;
}

static int entries_told(const struct lesson *l)
{
    int told = 0;
    for (size_t i = 0; i < l->heard.count; i++)
        told += l->heard.list[i].kind == US_ACTION_ROUND && l->heard.list[i].value == 2;
    return told;
}

/* A round of a known tune that is left for a duet and taken up again enters where it did, and says so. */
START_TEST(round_of_a_known_tune_comes_back)
{
    struct known k;
    struct us_companion_settings s = plain("4/4", 0);
    know(&k, "", false);
    s.tune = &k.score;
    s.second_voice = US_SECOND_ROUND;
    struct lesson *l = begin(&s);
    play(l, pitch_of(ROUND[0]), 1);
    ck_assert_int_eq(look(l).round_state, US_ROUND_ENTERS);
    ck_assert_int_eq(entries_told(l), 1);
    control(l, US_CONTROL_SECOND_VOICE, US_SECOND_THIRD);
    play(l, pitch_of(ROUND[1]), 1);
    control(l, US_CONTROL_SECOND_VOICE, US_SECOND_ROUND);
    play(l, pitch_of(ROUND[2]), 1);
    ck_assert_int_eq(look(l).round_state, US_ROUND_ENTERS);
    ck_assert_int_eq(look(l).round_bars, 2);
    ck_assert_int_eq(entries_told(l), 2);
    end(l);
}
END_TEST

/* The entry of one tune is none of the next one's, nor of no tune's. */
START_TEST(another_tune_has_another_round)
{
    struct known k, other;
    struct us_companion_settings s = plain("4/4", 0);
    know(&k, "", false);
    know(&other, "", true);
    s.tune = &k.score;
    s.second_voice = US_SECOND_ROUND;
    struct lesson *l = begin(&s);
    play(l, pitch_of(ROUND[0]), 1);
    ck_assert_int_eq(look(l).round_state, US_ROUND_ENTERS);
    s.tune = NULL;
    us_companion_go_on(l->companion, &s);
    play(l, pitch_of(ROUND[0]), 1);
    ck_assert_int_eq(look(l).round_state, US_ROUND_LISTENS);
    s.tune = &other.score;
    us_companion_go_on(l->companion, &s);
    play(l, 60, 1);
    ck_assert_int_eq(look(l).round_state, US_ROUND_FITS_NOWHERE);
    end(l);
}
END_TEST

/* When a known tune is over its last note may be held on: nothing is struck under it any more. */
START_TEST(nothing_is_struck_after_the_tune)
{
    struct known k;
    struct us_companion_settings s = plain("4/4", 0);
    know(&k, "", false);
    for (int i = 0; i < ROUND_NOTES; i++) {
        double at = 8 * (i / 5) + i % 5, len = i % 5 == 4 ? 4 : 1;
        k.notes[i].at = at;
        k.notes[i].len = len;
    }
    struct us_tune tune = k.score.tune;
    tune.note_count = 25;
    ck_assert(us_score_init(&k.score, &tune));
    s.tune = &k.score;
    struct lesson *l = begin(&s);
    for (int i = 0; i < 24; i++)
        play(l, pitch_of(abs(ROUND[i])), k.notes[i].len);
    int64_t over = l->now_ns + BAR_NS + 2 * BAR_NS;
    key(l, k.notes[24].pitch, true);
    wait_until(l, over + 10 * BAR_NS);
    ck_assert_uint_gt(left_strikes_between(l, over - 4 * BAR_NS, over - 1), 0);
    ck_assert_uint_eq(left_strikes_between(l, over - 1, l->now_ns), 0);
    end(l);
}
END_TEST

/* The round answers to its end when the player has come to the tune's; then the music stands still. */
START_TEST(page_stands_still_after_the_round)
{
    struct known k;
    struct us_companion_settings s = plain("4/4", 0);
    know(&k, "", false);
    s.tune = &k.score;
    s.second_voice = US_SECOND_ROUND;
    s.round_bars = 4;
    struct lesson *l = begin(&s);
    play_steps(l, 60, ROUND);
    bool answering = false;
    for (int quarter = 0; quarter < 40; quarter++) {
        answering = answering || look(l).answering;
        wait_until(l, l->now_ns + QUARTER_MS * 1000000LL);
    }
    ck_assert(answering && !look(l).answering);
    float here = look(l).page.here;
    leave(l);
    send(l, (struct us_event){.at_ns = l->now_ns, .kind = US_EVENT_TICK});
    ck_assert(!(look(l).page.here > here));
    check_order(l);
    end(l);
}
END_TEST

/* Once the run is over what comes next is written after what was played, not over it. */
START_TEST(page_is_in_order_after_the_run)
{
    struct known k;
    struct us_companion_settings s = plain("4/4", 0);
    know(&k, "", false);
    s.tune = &k.score;
    struct lesson *l = begin(&s);
    for (int i = 0; i < 9; i++)
        play(l, pitch_of(abs(ROUND[i])), ROUND[i] < 0 ? 2 : 1);
    for (int over = 0; over < 2; over++) {
        struct us_snapshot now = look(l);
        for (int i = 1; i < now.page.notes; i++)
            ck_assert_msg(now.page.note[i].at >= now.page.note[i - 1].at - 0.1f, "%d: note %d at %g", over, i,
                          (double)now.page.note[i].at);
        leave(l);
    }
    end(l);
}
END_TEST

/* A last note that is held until the run is over keeps its length, though its key is let go later. */
START_TEST(last_note_stays_long)
{
    struct us_companion_settings s = plain("4/4", 0);
    struct lesson *l = begin(&s);
    for (int i = 0; i < 7; i++)
        play(l, pitch_of(abs(ROUND[i])), 1);
    key(l, 72, true);
    wait_until(l, l->now_ns + 8 * BAR_NS);
    key(l, 72, false);
    struct us_page page = look(l).page;
    ck_assert(page.note[page.notes - 1].len > 0.9f);
    end(l);
}
END_TEST

/* A left-hand grip that was taken for the melody until the melody came is not answered by the round. */
START_TEST(round_leaves_the_learners_grip)
{
    struct us_companion_settings s = plain("4/4", 0);
    s.share = 90;
    s.second_voice = US_SECOND_ROUND;
    s.round_bars = 1;
    struct lesson *l = begin(&s);
    key(l, 57, true);
    wait_until(l, l->now_ns + 5000000);
    key(l, 60, true);
    wait_until(l, l->now_ns + 20000000);
    key(l, 72, true);
    wait_until(l, 550000000);
    key(l, 57, false);
    key(l, 60, false);
    key(l, 72, false);
    wait_until(l, 600000000);
    for (int i = 0; i < 11; i++)
        play(l, 72 + i % 3, 1);
    for (size_t i = 0; i < l->heard.count; i++) {
        const struct us_action *a = &l->heard.list[i];
        if (a->kind == US_ACTION_NOTE_ON && a->voice == US_VOICE_SECOND) ck_assert_int_ge(a->pitch, 72);
    }
    end(l);
}
END_TEST

/* A short left-hand grip that was let go before the melody came is not held for ever: once the learner's left
   hand has rested for a bar, the program plays again. */
START_TEST(short_grip_is_over)
{
    struct us_companion_settings s = plain("4/4", 0);
    static const int LINE[] = {1, 3, 5, 3, 0};
    s.share = 90;
    ck_assert(us_key_parse("C", &s.key));
    struct lesson *l = begin(&s);
    play_steps(l, 72, LINE);
    int64_t start = l->now_ns;
    static const struct {
        int pitch, ms;
        bool down;
    } GRIP[] = {{57, 0, true},   {60, 5, true},  {57, 12, false},
                {60, 14, false}, {72, 20, true}, {72, 400, false}};
    for (size_t i = 0; i < sizeof GRIP / sizeof *GRIP; i++) {
        wait_until(l, start + GRIP[i].ms * INT64_C(1000000));
        key(l, GRIP[i].pitch, GRIP[i].down);
    }
    wait_until(l, start + BAR_NS);
    for (int bar = 0; bar < 3; bar++)
        play_steps(l, 72, LINE);
    ck_assert_uint_gt(left_strikes_between(l, l->now_ns - BAR_NS - 50000000, l->now_ns), 0);
    end(l);
}
END_TEST

/* Where the instrument was lost, its keys are not waited for: the program plays again once the learner's left
   hand has rested for a bar. */
START_TEST(panic_lets_go_of_the_learners_keys)
{
    struct us_companion_settings s = plain("4/4", 0);
    static const int LINE[] = {1, 3, 5, 3, 0};
    s.share = 90;
    ck_assert(us_key_parse("C", &s.key));
    struct lesson *l = begin(&s);
    play_steps(l, 72, LINE);
    key(l, 48, true);
    send(l, (struct us_event){.at_ns = l->now_ns, .kind = US_EVENT_PANIC});
    key(l, 43, true);
    play_steps(l, 72, LINE);
    key(l, 43, false);
    for (int bar = 0; bar < 3; bar++)
        play_steps(l, 72, LINE);
    ck_assert_uint_gt(left_strikes_between(l, l->now_ns - BAR_NS - 50000000, l->now_ns), 0);
    end(l);
}
END_TEST

/* A value that a control does not have changes nothing. */
START_TEST(controls_keep_to_their_values)
{
    struct us_companion_settings s = plain("4/4", 0);
    struct lesson *l = begin(&s);
    play_steps(l, 67, (const int[]){1, 2, 3, 1, 5, 3, 1, 1, 0});
    static const struct {
        enum us_control what;
        int value;
    } ROWS[] = {{US_CONTROL_LEFT_HAND, 3}, {US_CONTROL_LEFT_HAND, -1}, {US_CONTROL_KEY_LOCK, 3},
                {US_CONTROL_KEY_LOCK, -1}, {US_CONTROL_SHARE, 101},    {US_CONTROL_TEXTURE, US_TEXTURES}};
    control(l, US_CONTROL_LEFT_HAND, 0);
    for (size_t i = 0; i < sizeof ROWS / sizeof *ROWS; i++) {
        control(l, ROWS[i].what, ROWS[i].value);
        struct us_snapshot now = look(l);
        ck_assert_msg(!now.left_hand_on && !now.key_locked && now.share_level == 100 &&
                          now.texture == US_TEXTURE_BLOCK,
                      "row %zu", i);
    }
    end(l);
}
END_TEST

/* How far the learner has got is kept with a share that was set while playing. */
START_TEST(share_that_was_set_goes_on)
{
    struct us_companion_settings s = plain("4/4", 0);
    static const int LINE[] = {1, 3, 5, 3, 0};
    ck_assert(us_key_parse("C", &s.key));
    struct lesson *l = begin(&s);
    control(l, US_CONTROL_SHARE, US_SHARE_AUTO);
    for (int bar = 0; bar < 6; bar++) {
        key(l, 48, true);
        play_steps(l, 72, LINE);
        key(l, 48, false);
    }
    int level = look(l).share_level;
    ck_assert_int_lt(level, 90);
    s.share = US_SHARE_AUTO;
    us_companion_go_on(l->companion, &s);
    ck_assert_int_eq(look(l).share_level, level);
    end(l);
}
END_TEST

/* A long title is cut between two letters of UTF-8. */
START_TEST(title_is_cut_whole)
{
    struct known k;
    struct us_companion_settings s = plain("4/4", 0);
    char title[200] = "";
    while (strlen(title) < 100)
        strcat(title, "\xC3\xA4");
    know(&k, title, false);
    s.tune = &k.score;
    struct lesson *l = begin(&s);
    for (int plays = 0; plays < 2; plays++) {
        struct us_snapshot now = look(l);
        ck_assert_int_eq(now.knows_tune, plays);
        size_t length = strlen(now.title);
        ck_assert_uint_gt(length, 50);
        ck_assert_uint_eq(length % 2, 0);
        play(l, pitch_of(ROUND[0]), 1);
    }
    end(l);
}
END_TEST

int main(void)
{
    const TTest *const TESTS[] = {page_stands_still_after_the_round,  nothing_is_struck_after_the_tune,
                                  round_of_a_known_tune_comes_back,   another_tune_has_another_round,
                                  page_is_in_order_after_the_run,     last_note_stays_long,
                                  round_leaves_the_learners_grip,     short_grip_is_over,
                                  panic_lets_go_of_the_learners_keys, controls_keep_to_their_values,
                                  share_that_was_set_goes_on,         title_is_cut_whole};
    return RUN_TESTS("companion keeps", TESTS);
}
