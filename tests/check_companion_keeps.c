/* What a companion keeps and what it forgets: a tune that is known, keys that are down, what a control sets.
   The tune is made up for this test. */
#include "lesson.h"

#include "../src/core/companion_state.h"

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

/* A round a bar later, and a learner whose left hand is listened for. */
static struct lesson *begin_round_with_a_learner(void)
{
    struct us_companion_settings s = plain("4/4", 0);
    s.share = 90;
    s.second_voice = US_SECOND_ROUND;
    s.round_bars = 1;
    return begin(&s);
}

/* A left-hand grip that was taken for the melody until the melody came is not answered by the round. */
START_TEST(round_leaves_the_learners_grip)
{
    struct lesson *l = begin_round_with_a_learner();
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

/* Where nothing fits is known from what was heard: whoever turns to the round late is listened to first. */
START_TEST(round_listens_from_where_it_was_chosen)
{
    struct us_companion_settings s = plain("4/4", 0);
    struct lesson *l = begin(&s);
    for (int i = 0; i < 3; i++)
        play_steps(l, 67, TUNE);
    control(l, US_CONTROL_SECOND_VOICE, US_SECOND_ROUND);
    for (int i = 0; i < 8; i++)
        play(l, 67 + i % 3, 1);
    ck_assert_int_eq(look(l).round_state, US_ROUND_LISTENS);
    end(l);
}
END_TEST

/* A tune of the songbook that turns out to be another one leaves no entry behind. */
START_TEST(round_forgets_a_tune_that_is_let_go)
{
    struct known k;
    struct us_song_opening opening;
    know(&k, "", false);
    us_song_opening(&opening, &k.score);
    const struct us_score *const songs[] = {&k.score};
    struct us_songbook book = {songs, &opening, 1};
    struct us_companion_settings s = plain("4/4", 0);
    s.songbook = &book;
    s.second_voice = US_SECOND_ROUND;
    struct lesson *l = begin(&s);
    play_steps(l, 60, ROUND);
    ck_assert(look(l).knows_tune);
    ck_assert_int_eq(look(l).round_state, US_ROUND_ENTERS);
    leave(l);
    unsigned random = 1;
    for (int i = 0; i < 40; i++) {
        random = random * 1103515245u + 12345u;
        play(l, 60 + (int)(random >> 16) % 13, 1);
    }
    ck_assert(!look(l).knows_tune);
    ck_assert_int_eq(look(l).round_state, US_ROUND_LISTENS);
    end(l);
}
END_TEST

/* Two bars of 4/4, then 3/4: places of the page are no longer counted in bars of one length. */
static struct lesson *begin_with_two_metres(struct known *k, struct us_bar bars[8])
{
    struct us_companion_settings s = plain(NULL, 0);
    know(k, "", false);
    for (int i = 0; i < 8; i++) {
        struct us_metre metre = {i < 2 ? 4 : 3, 4};
        bars[i] = (struct us_bar){.at = i < 2 ? 4 * i : 8 + 3 * (i - 2), .len = metre.top, .metre = metre};
    }
    struct us_tune tune = k->score.tune;
    tune.bars = bars;
    tune.bar_count = 8;
    ck_assert(us_score_init(&k->score, &tune));
    s.tune = &k->score;
    return begin(&s);
}

static void play_notes(struct lesson *l, const struct known *k, int from, int to)
{
    for (int i = from; i < to; i++)
        play(l, k->notes[i].pitch, k->notes[i].len);
}

/* From the page's note number `from` on: none later than the longest note allows, none earlier than the one
   before. */
static void check_page_goes_on(const struct lesson *l, int notes)
{
    struct us_page page = look(l).page;
    ck_assert_int_ge(page.notes, notes);
    for (int i = 1; i < notes; i++) {
        float step = page.note[i].at - page.note[i - 1].at;
        ck_assert_msg(step > 0.5f && step < 2.5f, "note %d: %g", i, (double)step);
    }
}

/* Who waits before a bar line at which the metre changes leaves no hole behind, of which a round would skip
   as much. */
START_TEST(page_waits_where_the_metre_changes)
{
    struct known k;
    struct us_bar bars[8];
    struct lesson *l = begin_with_two_metres(&k, bars);
    play_notes(l, &k, 0, 7);
    wait_until(l, l->now_ns + 5 * QUARTER_MS * 1000000LL);
    play_notes(l, &k, 7, 12);
    check_page_goes_on(l, 12);
    end(l);
}
END_TEST

/* A bar line is drawn where a bar is felt to begin, also after the metre has changed. */
START_TEST(bar_lines_stand_where_bars_begin)
{
    struct known k;
    struct us_bar bars[8];
    struct lesson *l = begin_with_two_metres(&k, bars);
    bool other = false;
    for (int i = 0; i < 14; i++) {
        key(l, k.notes[i].pitch, true);
        struct us_snapshot now = look(l);
        double bar = us_metre_bar_quarters(now.metre);
        float at = now.page.note[i].at - now.page.line;
        ck_assert_msg(fabs(remainder((double)at - now.bar_quarters, bar)) < 0.05, "note %d: %g, not %g of %g",
                      i, (double)at, now.bar_quarters, bar);
        other = other || fabs(remainder((double)now.page.line, bar)) > 0.5;
        wait_until(l, l->now_ns + (int64_t)(k.notes[i].len * QUARTER_MS * 1e6));
        key(l, k.notes[i].pitch, false);
    }
    ck_assert(other);
    end(l);
}
END_TEST

/* Nor does another second voice, or a panic, change where on the page the run is. */
START_TEST(page_goes_on_with_another_second_voice)
{
    struct known k;
    struct us_bar bars[8];
    struct lesson *l = begin_with_two_metres(&k, bars);
    play_notes(l, &k, 0, 10);
    control(l, US_CONTROL_SECOND_VOICE, US_SECOND_THIRD);
    play_notes(l, &k, 10, 12);
    send(l, (struct us_event){.at_ns = l->now_ns, .kind = US_EVENT_PANIC});
    play_notes(l, &k, 12, 14);
    check_page_goes_on(l, 14);
    end(l);
}
END_TEST

static size_t pedals(const struct lesson *l)
{
    size_t count = 0;
    for (size_t i = 0; i < l->heard.count; i++)
        count += l->heard.list[i].kind == US_ACTION_PEDAL && !l->heard.list[i].velocity;
    return count;
}

/* Where the instrument was lost its pedal is not waited for: what was released would ring on. */
START_TEST(panic_lifts_the_pedal)
{
    struct us_companion_settings s = plain("4/4", 0);
    struct lesson *l = begin(&s);
    key(l, 60, true);
    send(l, (struct us_event){.at_ns = l->now_ns, .kind = US_EVENT_PEDAL, .value = 127});
    send(l, (struct us_event){.at_ns = l->now_ns, .kind = US_EVENT_PANIC});
    ck_assert_uint_eq(pedals(l), 1);
    send(l, (struct us_event){.at_ns = l->now_ns, .kind = US_EVENT_PANIC});
    ck_assert_uint_eq(pedals(l), 1);
    end(l);
}
END_TEST

/* Two keys that go down in the same instant are one note of the strain, as they are when one is a little
   later. */
START_TEST(grip_is_one_note_of_the_strain)
{
    for (int later = 0; later < 2; later++) {
        struct us_companion_settings s = plain("4/4", 0);
        struct lesson *l = begin(&s);
        for (int i = 0; i < 12; i++) {
            int64_t start = l->now_ns;
            int pitch = pitch_of(abs(ROUND[i]) + 7);
            key(l, pitch, true);
            wait_until(l, start + later * 10000000);
            key(l, pitch - 12, true);
            wait_until(l, start + QUARTER_MS * 900000LL);
            key(l, pitch, false);
            key(l, pitch - 12, false);
            wait_until(l, start + QUARTER_MS * 1000000LL);
        }
        ck_assert_int_eq(l->companion->strain.score.count, 12);
        end(l);
    }
}
END_TEST

/* A key whose release was lost goes down again, for the other hand now: the round ends its first note. */
START_TEST(key_that_goes_down_twice_is_let_go)
{
    struct lesson *l = begin_round_with_a_learner();
    play(l, 57, 1);
    play(l, 55, 1);
    key(l, 53, true);
    wait_until(l, l->now_ns + QUARTER_MS * 1000000LL);
    play(l, 60, 1);
    play(l, 67, 1);
    key(l, 72, true);
    wait_until(l, l->now_ns + 10000000);
    key(l, 53, true);
    ck_assert(look(l).learner_note);
    wait_until(l, l->now_ns + QUARTER_MS * 900000LL);
    key(l, 53, false);
    key(l, 72, false);
    wait_until(l, 6 * QUARTER_MS * 1000000LL);
    for (int i = 0; i < 12; i++)
        play(l, 72 + i % 3, 1);
    ck_assert_int_eq(look(l).second_down[53 / 8] >> 53 % 8 & 1, 0);
    end(l);
}
END_TEST

/* A drill goes on with another tune, however much shorter that one is. */
START_TEST(drill_goes_on_with_a_shorter_tune)
{
    struct known k, shorter;
    struct us_companion_settings s = plain("4/4", 0);
    know(&k, "", false);
    know(&shorter, "", false);
    struct us_tune tune = k.score.tune;
    tune.note_count = 12;
    ck_assert(us_score_init(&shorter.score, &tune));
    ck_assert(us_drill_parse("C,D", &s.drill, NULL));
    s.tune = &k.score;
    struct lesson *l = begin(&s);
    play_steps(l, 60, ROUND);
    leave(l);
    ck_assert_int_eq(look(l).drill_asked.tonic, 2);
    s.tune = &shorter.score;
    us_companion_go_on(l->companion, &s);
    ck_assert_int_eq(look(l).drill_asked.tonic, 2);
    for (int i = 0; i < 12; i++)
        play(l, k.notes[i].pitch + 2, k.notes[i].len);
    leave(l);
    ck_assert_int_eq(look(l).drill_asked.tonic, 0);
    ck_assert_int_eq(look(l).drill_news, US_DRILL_DONE);
    end(l);
}
END_TEST

/* What else would do is told most probable first, also where the chord made way for the melody. */
START_TEST(alternatives_are_in_order)
{
    struct us_companion_settings s = plain("4/4", 0);
    s.chords = US_CHORDS_WIDE;
    ck_assert(us_key_parse("C", &s.key));
    s.chords = US_CHORDS_WIDE;
    struct lesson *l = begin(&s);
    unsigned random = 1;
    for (int i = 0; i < 900; i++) {
        random = random * 1103515245u + 12345u;
        play(l, 60 + (int)(random >> 16) % 13, 1);
        l->heard.count = 0;
        struct us_snapshot now = look(l);
        for (int a = 1; a < now.alternatives; a++)
            ck_assert_msg(now.alternative_probability[a] <= now.alternative_probability[a - 1], "note %d", i);
    }
    end(l);
}
END_TEST

/* What was laid out under a high note keeps below the lower key of a grip, though its upper one came last. */
START_TEST(inner_strikes_keep_below_the_grip)
{
    for (int texture = 0; texture < US_TEXTURES; texture++) {
        for (int lower = 52; lower < 64; lower++) {
            struct us_companion_settings s = plain("4/4", 0);
            s.texture = (enum us_texture)texture;
            s.change = US_CHANGE_BAR;
            ck_assert(us_key_parse("C", &s.key));
            struct lesson *l = begin(&s);
            play(l, 79, 1);
            key(l, lower, true);
            wait_until(l, l->now_ns + 10000000);
            int64_t grip_ns = l->now_ns;
            key(l, 76, true);
            wait_until(l, BAR_NS - 1);
            for (size_t i = 0; i < l->heard.count; i++) {
                const struct us_action *a = &l->heard.list[i];
                bool strike = a->kind == US_ACTION_NOTE_ON && a->voice == US_VOICE_LEFT;
                ck_assert_msg(!strike || a->at_ns < grip_ns || a->pitch < lower, "%d over %d", a->pitch,
                              lower);
            }
            end(l);
        }
    }
}
END_TEST

/* Whoever lets the key be found goes on so; a key that is not asked for any more is found again. */
START_TEST(lock_is_kept_where_nothing_new_is_asked)
{
    struct us_companion_settings s = plain("4/4", 0);
    ck_assert(us_key_parse("G", &s.key));
    struct lesson *l = begin(&s);
    ck_assert(look(l).key_locked);
    control(l, US_CONTROL_KEY_LOCK, 0);
    us_companion_go_on(l->companion, &s);
    ck_assert(!look(l).key_locked);
    ck_assert(us_key_parse("D", &s.key));
    us_companion_go_on(l->companion, &s);
    ck_assert(look(l).key_locked);
    s.key.tonic = US_NO_KEY;
    us_companion_go_on(l->companion, &s);
    ck_assert(!look(l).key_locked);
    play_steps(l, 67, TUNE);
    control(l, US_CONTROL_KEY_LOCK, 1);
    us_companion_go_on(l->companion, &s);
    ck_assert(look(l).key_locked);
    end(l);
}
END_TEST

int main(void)
{
    const TTest *const TESTS[] = {page_stands_still_after_the_round,
                                  nothing_is_struck_after_the_tune,
                                  round_of_a_known_tune_comes_back,
                                  another_tune_has_another_round,
                                  page_is_in_order_after_the_run,
                                  last_note_stays_long,
                                  round_leaves_the_learners_grip,
                                  short_grip_is_over,
                                  panic_lets_go_of_the_learners_keys,
                                  controls_keep_to_their_values,
                                  share_that_was_set_goes_on,
                                  title_is_cut_whole,
                                  round_listens_from_where_it_was_chosen,
                                  round_forgets_a_tune_that_is_let_go,
                                  page_waits_where_the_metre_changes,
                                  bar_lines_stand_where_bars_begin,
                                  page_goes_on_with_another_second_voice,
                                  panic_lifts_the_pedal,
                                  grip_is_one_note_of_the_strain,
                                  key_that_goes_down_twice_is_let_go,
                                  drill_goes_on_with_a_shorter_tune,
                                  alternatives_are_in_order,
                                  lock_is_kept_where_nothing_new_is_asked,
                                  inner_strikes_keep_below_the_grip};
    return RUN_TESTS("companion keeps", TESTS);
}
