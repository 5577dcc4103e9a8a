/* Phrases of a tune, and practising some of them round and round.  The tune is made up for this test. */
#include "lesson.h"

#include "undersong/phrases.h"

#include <stdio.h>

enum { PHRASES = 4, PHRASE_NOTES = 7, NOTES = PHRASES * PHRASE_NOTES, PHRASE_QUARTERS = 8 };

/* Four phrases of two bars: six quarters and a half note each, and their chords by bar. */
static const int PITCH[PHRASES][PHRASE_NOTES] = {{60, 64, 67, 65, 64, 62, 60},
                                                 {65, 69, 67, 65, 67, 71, 67},
                                                 {72, 71, 69, 67, 65, 64, 62},
                                                 {67, 65, 64, 62, 59, 62, 60}};
static const int8_t ROOT[2 * PHRASES] = {0, 0, 5, 7, 0, 7, 0, 0};

struct made {
    struct us_note notes[NOTES];
    struct us_chord_span chords[2 * PHRASES];
    struct us_tune tune;
    struct us_score score;
    struct us_companion_settings settings;
};

static void make(struct made *m, int from, int to)
{
    static const double STARTS[PHRASES] = {0, 8, 16, 24};
    memset(m, 0, sizeof *m);
    for (int i = 0; i < NOTES; i++) {
        int in = i % PHRASE_NOTES;
        m->notes[i] = (struct us_note){PHRASE_QUARTERS * (i / PHRASE_NOTES) + in, in == 6 ? 2 : 1,
                                       (int16_t)PITCH[i / PHRASE_NOTES][in], 70};
    }
    for (int i = 0; i < 2 * PHRASES; i++)
        m->chords[i] = (struct us_chord_span){4 * i, 4, {ROOT[i], US_CHORD_MAJ}};
    m->tune = (struct us_tune){.notes = m->notes,
                               .note_count = NOTES,
                               .chords = m->chords,
                               .chord_count = 2 * PHRASES,
                               .key = {0, US_MODE_MAJOR},
                               .metre = {4, 4},
                               .title = "",
                               .lines = STARTS,
                               .line_count = PHRASES};
    ck_assert(us_score_init(&m->score, &m->tune));
    m->settings = plain(NULL, -1);
    m->settings.tune = &m->score;
    m->settings.loop = (struct us_loop_part){.first = (uint16_t)((from - 1) * PHRASE_NOTES),
                                             .last = (uint16_t)(to * PHRASE_NOTES - 1),
                                             .from = (uint16_t)from,
                                             .to = (uint16_t)to,
                                             .phrases = PHRASES};
}

/* Notes of the tune, moved; where `wrong` is among them it is played a tone too high, before `wait` there is
   a pause. */
static void play_part(struct lesson *l, int first, int last, int up, int wrong, int wait)
{
    for (int i = first; i <= last; i++) {
        if (i == wait) wait_until(l, l->now_ns + 1200000000);
        play(l, PITCH[i / PHRASE_NOTES][i % PHRASE_NOTES] + up + (i == wrong ? 2 : 0),
             i % PHRASE_NOTES == 6 ? 2 : 1);
    }
}

static int news(const struct lesson *l, enum us_loop_news *out, int max)
{
    int count = 0;
    for (size_t i = 0; i < l->heard.count; i++) {
        if (l->heard.list[i].kind != US_ACTION_LOOP) continue;
        ck_assert_int_lt(count, max);
        out[count++] = (enum us_loop_news)l->heard.list[i].value;
    }
    return count;
}

static struct us_chord chord_now(const struct lesson *l)
{
    struct us_snapshot now;
    us_companion_snapshot(l->companion, &now);
    return now.chord;
}

START_TEST(loop_each_time_is_counted)
{
    static struct made m;
    enum us_loop_news told[8];
    make(&m, 2, 3);
    for (int up = -3; up <= 3; up += 3) {
        struct lesson *l = begin(&m.settings);
        play_part(l, 7, 20, up, 10, -1); /* a wrong note */
        play_part(l, 7, 20, up, -1, 15); /* a wait */
        play_part(l, 7, 20, up, -1, -1);
        play_part(l, 7, 20, up, -1, -1);
        ck_assert_int_eq(news(l, told, 8), 4);
        ck_assert_int_eq(told[0], US_LOOP_AGAIN);
        ck_assert_int_eq(told[1], US_LOOP_AGAIN);
        ck_assert_int_eq(told[2], US_LOOP_CLEAN);
        ck_assert_int_eq(told[3], US_LOOP_READY);
        struct us_snapshot now;
        us_companion_snapshot(l->companion, &now);
        ck_assert_int_eq(now.loop.times, 4);
        ck_assert_int_eq(now.loop.clean, 2);
        leave(l);
        check_order(l);
        end(l);
    }
}
END_TEST

/* What went wrong is told in numbers. */
START_TEST(loop_says_what_slipped)
{
    static const struct {
        int wrong, wait;
        uint32_t wrongs, waits;
    } ROWS[] = {{-1, -1, 0, 0}, {9, -1, 1, 0}, {-1, 12, 0, 1}, {9, 12, 1, 1}, {-1, 20, 0, 1}};
    static struct made m;
    make(&m, 2, 3);
    for (size_t i = 0; i < sizeof ROWS / sizeof *ROWS; i++) {
        struct lesson *l = begin(&m.settings);
        struct us_snapshot now;
        play_part(l, 7, 20, 5, ROWS[i].wrong, ROWS[i].wait);
        us_companion_snapshot(l->companion, &now);
        ck_assert_int_eq(now.loop.times, 1);
        ck_assert_int_eq(now.loop.wrong, ROWS[i].wrongs);
        ck_assert_int_eq(now.loop.waits, ROWS[i].waits);
        end(l);
    }
}
END_TEST

/* The left hand goes back with the player, with or without a pause, and on with the one who goes on. */
START_TEST(loop_left_hand_follows)
{
    static struct made m;
    make(&m, 2, 3);
    for (int pause = 0; pause < 2; pause++) {
        struct lesson *l = begin(&m.settings);
        for (int time = 0; time < 3; time++) {
            for (int phrase = 1; phrase < 3; phrase++)
                for (int i = 0; i < PHRASE_NOTES; i++) {
                    int at = phrase * PHRASE_NOTES + i;
                    play_part(l, at, at, 2, -1, -1);
                    int8_t root = (int8_t)us_pitch_class(ROOT[2 * phrase + (i >= 4)] + 2);
                    ck_assert_msg(chord_now(l).root == root, "time %d note %d: %d, not %d", time, at,
                                  chord_now(l).root, root);
                    if (i % 4 == 0)
                        ck_assert_uint_ge(
                            strikes_at(l, l->now_ns - (i == 6 ? 2 : 1) * 600000000LL, US_VOICE_LEFT), 3);
                }
            if (pause) wait_until(l, l->now_ns + 3000000000);
        }
        play_part(l, 21, 27, 2, -1, -1); /* not back but on: the last phrase as the tune has them */
        ck_assert_int_eq(chord_now(l).root, 2);
        struct us_snapshot now;
        us_companion_snapshot(l->companion, &now);
        ck_assert(now.knows_tune);
        ck_assert_int_eq(now.loop.times, 3);
        leave(l);
        check_order(l);
        end(l);
    }
}
END_TEST

/* A start that is broken off is not counted; nor is anything without a loop. */
START_TEST(loop_counts_whole_times_only)
{
    static struct made m;
    enum us_loop_news told[4];
    make(&m, 2, 3);
    struct lesson *l = begin(&m.settings);
    play_part(l, 7, 12, 0, -1, -1);
    play_part(l, 7, 15, 0, -1, -1);
    ck_assert_int_eq(news(l, told, 4), 0);
    play_part(l, 7, 20, 0, -1, -1);
    ck_assert_int_eq(news(l, told, 4), 1);
    ck_assert_int_eq(told[0], US_LOOP_CLEAN);
    end(l);
    m.settings.loop = (struct us_loop_part){.last = 0};
    l = begin(&m.settings);
    for (int i = 0; i < 2; i++)
        play_part(l, 0, 27, 0, -1, -1);
    ck_assert_int_eq(news(l, told, 4), 0);
    end(l);
}
END_TEST

/* The times through go on over other settings; another part begins anew, in the same tune. */
START_TEST(loop_goes_on_with_other_settings)
{
    static struct made m, other;
    struct us_snapshot now;
    make(&m, 2, 2);
    make(&other, 3, 4);
    struct lesson *l = begin(&m.settings);
    play_part(l, 7, 13, 0, -1, -1);
    struct us_companion_settings changed = m.settings;
    changed.texture = US_TEXTURE_FIFTHS;
    us_companion_go_on(l->companion, &changed);
    play_part(l, 7, 13, 0, -1, -1);
    us_companion_snapshot(l->companion, &now);
    ck_assert_int_eq(now.loop.times, 2);
    ck_assert_int_eq(us_loop_result(&now.loop), US_LOOP_READY);
    changed.loop = other.settings.loop;
    us_companion_go_on(l->companion, &changed);
    us_companion_snapshot(l->companion, &now);
    ck_assert_int_eq(now.loop.times, 0);
    ck_assert_int_eq(now.loop.part.from, 3);
    for (int time = 0; time < 2; time++)
        play_part(l, 14, 27, 0, -1, -1);
    us_companion_snapshot(l->companion, &now);
    ck_assert_int_eq(now.loop.times, 2);
    ck_assert_int_eq(now.loop.clean, 2);
    changed.loop = (struct us_loop_part){.last = 0};
    us_companion_go_on(l->companion, &changed);
    play_part(l, 14, 27, 0, -1, -1);
    us_companion_snapshot(l->companion, &now);
    ck_assert_int_eq(now.loop.times, 0);
    end(l);
}
END_TEST

/* So does a drill: the same keys go on, others begin. */
START_TEST(drill_goes_on_with_other_settings)
{
    static struct made m;
    struct us_snapshot now;
    make(&m, 1, 1);
    m.settings.loop.last = 0;
    ck_assert(us_drill_parse("C,D,F", &m.settings.drill, NULL));
    struct lesson *l = begin(&m.settings);
    play_part(l, 0, 27, 0, -1, -1);
    wait_until(l, l->now_ns + 12000000000);
    us_companion_snapshot(l->companion, &now);
    ck_assert_int_eq(now.drill_asked.tonic, 2);
    ck_assert_int_eq(now.drill_news, US_DRILL_NEXT);
    struct us_companion_settings changed = m.settings;
    changed.texture = US_TEXTURE_FIFTHS;
    us_companion_go_on(l->companion, &changed);
    us_companion_snapshot(l->companion, &now);
    ck_assert_int_eq(now.drill_asked.tonic, 2);
    ck_assert(us_drill_parse("C,F", &changed.drill, NULL));
    us_companion_go_on(l->companion, &changed);
    us_companion_snapshot(l->companion, &now);
    ck_assert_int_eq(now.drill_asked.tonic, 0);
    ck_assert_int_eq(now.drill_next.tonic, 5);
    ck_assert_int_eq(now.drill_news, US_DRILL_NOTHING);
    end(l);
}
END_TEST

/* As a teacher would say it. */
START_TEST(loop_words)
{
    static const struct {
        struct us_loop loop;
        const char *name, *bars, *result;
    } ROWS[] = {
        {{.part = {.from = 2, .to = 2, .phrases = 4, .from_bar = 5, .to_bar = 8}},
         "phrase 2",
         "bars 5 to 8",
         ""},
        {{.part = {.from = 1, .to = 2, .phrases = 4, .from_bar = 0, .to_bar = 8}, .times = 3, .wrong = 1},
         "phrases 1 to 2",
         "pickup to bar 8",
         "time 3: 1 slip; once more, slowly"},
        {{.part = {.from = 3, .to = 3, .phrases = 4, .from_bar = 9, .to_bar = 9},
          .times = 2,
          .wrong = 2,
          .waits = 1},
         "phrase 3",
         "bar 9",
         "time 2: 2 slips and 1 wait; once more, slowly"},
        {{.part = {.from = 3, .to = 3, .phrases = 4}, .times = 4, .clean = 1},
         "phrase 3",
         "the pickup",
         "time 4: clean; once more like that"},
        {{.part = {.from = 3, .to = 3, .phrases = 4}, .times = 5, .clean = 2},
         "phrase 3",
         "the pickup",
         "time 5: clean again; now phrase 4"},
        {{.part = {.from = 4, .to = 4, .phrases = 4}, .times = 5, .clean = 3},
         "phrase 4",
         "the pickup",
         "time 5: clean again; now the whole tune"},
    };
    char words[100];
    for (size_t i = 0; i < sizeof ROWS / sizeof *ROWS; i++) {
        ck_assert_str_eq(us_loop_part_name(&ROWS[i].loop.part, words, sizeof words), ROWS[i].name);
        ck_assert_str_eq(us_loop_bars(&ROWS[i].loop.part, words, sizeof words), ROWS[i].bars);
        ck_assert_str_eq(us_loop_result_words(&ROWS[i].loop, words, sizeof words), ROWS[i].result);
    }
}
END_TEST

/* Lines of the page, pickups, and parts that are played twice. */
START_TEST(phrases_of_a_page)
{
    static struct made m;
    struct us_harmony_view none = {0};
    struct us_phrase found[16];
    make(&m, 1, 1);
    ck_assert_uint_le(us_phrases_most(&m.tune, &none), 16);
    ck_assert_uint_eq(us_phrases_of_page(&m.tune, &none, m.tune.metre, 0, found), PHRASES);
    for (int i = 0; i < PHRASES; i++)
        ck_assert(found[i].at == 8.0 * i && found[i].end == 8.0 * i + 8);

    /* A pickup of a quarter: lines start on bar lines, phrases a quarter before. */
    static const double LINES[] = {0, 8};
    struct us_note notes[12];
    for (int i = 0; i < 12; i++)
        notes[i] = (struct us_note){i, 1, (int16_t)(60 + i), 70};
    struct us_bar bars[] = {{.at = 0, .len = 1, .metre = {4, 4}},
                            {.at = 1, .len = 3, .written = 1, .metre = {4, 4}},
                            {.at = 4, .len = 4, .written = 2, .metre = {4, 4}},
                            {.at = 8, .len = 4, .written = 3, .metre = {4, 4}}};
    struct us_tune tune = {.notes = notes, .note_count = 12, .lines = LINES, .line_count = 2};
    ck_assert_uint_eq(us_phrases_of_page(&tune, &none, (struct us_metre){4, 4}, 4, found), 2);
    ck_assert(found[1].at == 4 && found[1].end == 12);

    /* A repeat without lines: both times are phrases as played, one of them on the page. */
    tune.line_count = 0;
    tune.bars = bars;
    tune.bar_count = 4;
    bars[2].written = 0;
    bars[3].written = 1;
    double starts[16];
    size_t count = us_phrase_starts(&tune, &none, (struct us_metre){4, 4}, 0, starts);
    ck_assert_uint_eq(count, 2);
    ck_assert(starts[0] == 0 && starts[1] == 4);
    ck_assert_uint_eq(us_phrases_of_page(&tune, &none, (struct us_metre){4, 4}, 0, found), 1);
    ck_assert(found[0].at == 0 && found[0].end == 4);
}
END_TEST

/* A pickup, two bars with a first and a second ending, the first one short by the pickup, and two bars more:
   as played, and what a page prints. */
START_TEST(bars_are_numbered_as_printed)
{
    static const struct {
        uint32_t written;
        double len;
        bool closes;
        uint8_t repeat_times;
        int32_t number;
    } ROWS[] = {{0, 1, false, 0, 0}, {1, 4, false, 0, 1}, {2, 3, true, 2, 2},  {0, 1, false, 0, 0},
                {1, 4, false, 0, 1}, {3, 3, true, 0, 3},  {4, 1, false, 0, 3}, {5, 4, false, 0, 4}};
    enum { COUNT = sizeof ROWS / sizeof *ROWS };
    struct us_bar bars[COUNT] = {{0}};
    double at = 0;
    for (int i = 0; i < COUNT; i++) {
        bars[i] = (struct us_bar){.at = at,
                                  .len = ROWS[i].len,
                                  .metre = {4, 4},
                                  .written = ROWS[i].written,
                                  .closes = ROWS[i].closes,
                                  .repeat_times = ROWS[i].repeat_times};
        at += ROWS[i].len;
    }
    struct us_tune tune = {.bars = bars, .bar_count = COUNT};
    for (size_t i = 0; i < COUNT; i++)
        ck_assert_msg(us_tune_bar_number(&tune, i) == ROWS[i].number, "bar %zu: %d", i,
                      us_tune_bar_number(&tune, i));
}
END_TEST

/* Before a note is played the page has how it begins: the tune, the phrase, in the key that a drill asks for;
   after the first note only what was played, until the tune leads. */
START_TEST(a_tune_that_waits_is_shown)
{
    struct made m;
    struct us_snapshot now;
    make(&m, 2, 2);
    m.tune.title = m.score.tune.title = "Made";
    m.tune.pickup = m.score.tune.pickup = 0;
    struct lesson *l = begin(&m.settings);
    us_companion_snapshot(l->companion, &now);
    ck_assert(now.tune_waits && !now.knows_tune);
    ck_assert_str_eq(now.title, "Made");
    char title[100];
    int letters = (int)sizeof now.title - 2; /* a letter of two bytes behind them has no room */
    snprintf(title, sizeof title, "%0*d\xC3\xBC", letters, 0);
    m.score.tune.title = title;
    us_companion_snapshot(l->companion, &now);
    ck_assert_uint_eq(strlen(now.title), (size_t)letters);
    ck_assert_int_eq(now.key.tonic, US_NO_KEY); /* nothing was heard */
    ck_assert_int_eq(now.tune_key.tonic, 0);
    ck_assert_int_eq(now.page.notes, PHRASE_NOTES);
    for (int i = 0; i < PHRASE_NOTES; i++) {
        ck_assert(now.page.note[i].ahead);
        ck_assert_int_eq(now.page.note[i].pitch, PITCH[1][i]);
        ck_assert_double_eq_tol((double)now.page.note[i].at, i, 1e-6); /* from its own bar line */
    }
    ck_assert_int_eq(now.page.chord[0].chord.root, ROOT[2]);
    play(l, PITCH[1][0], 1);
    us_companion_snapshot(l->companion, &now);
    ck_assert(!now.tune_waits);
    end(l);
    m.settings.loop = (struct us_loop_part){0};
    us_drill_of_keys(&m.settings.drill, &(struct us_key){7, US_MODE_MAJOR}, 1);
    l = begin(&m.settings);
    us_companion_snapshot(l->companion, &now);
    ck_assert_int_eq(now.tune_key.tonic, 7);
    ck_assert_int_eq(now.page.note[0].pitch, PITCH[0][0] - 5);
    ck_assert_int_eq(now.page.chord[0].chord.root, 7);
    end(l);
}
END_TEST

int main(void)
{
    const TTest *const TESTS[] = {a_tune_that_waits_is_shown,
                                  loop_each_time_is_counted,
                                  loop_says_what_slipped,
                                  loop_left_hand_follows,
                                  loop_counts_whole_times_only,
                                  loop_goes_on_with_other_settings,
                                  drill_goes_on_with_other_settings,
                                  loop_words,
                                  phrases_of_a_page,
                                  bars_are_numbered_as_printed};
    return RUN_TESTS("loop", TESTS);
}
