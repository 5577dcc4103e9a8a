#include "support.h"

#include "undersong/explain.h"

#include <stdlib.h>
#include <string.h>

enum { NOTES_MAX = 64, CHORDS_MAX = 16, BEATS_MAX = 64 };

/* A tune in 4/4 without pickup and the chords under it, put together by hand: what is explained is known. */
struct scene {
    struct us_note notes[NOTES_MAX];
    struct us_tune tune;
    struct us_harmony_request request;
    struct us_chord_choice chords[CHORDS_MAX];
    struct us_beat_view beats[BEATS_MAX];
    struct us_explain explain;
};

/* `melody`: MIDI pitches, "/2" for two quarters, "/.5" for an eighth, one quarter without. */
static void read_melody(struct scene *s, const char *melody)
{
    double at = 0;
    while (*melody) {
        char *end;
        long pitch = strtol(melody, &end, 10);
        double len = 1;
        if (*end == '/') len = strtod(end + 1, &end);
        if (pitch > 0) s->notes[s->tune.note_count++] = (struct us_note){at, len, (int16_t)pitch, 80};
        at += len;
        melody = end + strspn(end, " ");
    }
}

/* `chords`: numerals, each a bar long unless "/QUARTERS" says otherwise. */
static void read_chords(struct scene *s, const char *chords)
{
    double at = 0;
    while (*chords) {
        static const char *const NAMES[] = {"I", "IV", "V"};
        char name[8] = "";
        size_t length = strcspn(chords, " /");
        memcpy(name, chords, length);
        chords += length;
        double len = 4;
        if (*chords == '/') {
            char *end;
            len = strtod(chords + 1, &end);
            chords = end;
        }
        chords += strspn(chords, " ");
        struct us_chord chord = {9, US_CHORD_MIN}; /* vi, where it is none of the three */
        for (int r = 0; r < 3; r++)
            if (strcmp(NAMES[r], name) == 0) chord = us_chord_primary(s->request.key, (enum us_role)(r + 1));
        s->chords[s->explain.count++] =
            (struct us_chord_choice){.at = at, .len = len, .choice = {.chord = chord}};
        at += len;
    }
}

/* In C major, or C minor where `minor` is set. */
static void make(struct scene *s, bool minor, const char *melody, const char *chords)
{
    memset(s, 0, sizeof *s);
    s->request = (struct us_harmony_request){.tune = &s->tune, .metre = {4, 4}};
    s->request.key = (struct us_key){0, minor ? US_MODE_MINOR : US_MODE_MAJOR};
    s->tune.notes = s->notes;
    s->tune.title = "";
    s->explain = (struct us_explain){.request = &s->request, .chords = s->chords};
    read_melody(s, melody);
    read_chords(s, chords);
    const struct us_chord_choice *last = &s->chords[s->explain.count - 1];
    size_t beats = (size_t)(last->at + last->len);
    for (size_t i = 0; i < beats && i < BEATS_MAX; i++) {
        s->beats[i] = (struct us_beat_view){.at = (double)i, .len = 1, .same_as = -1, .key = s->request.key};
        s->beats[i].position.bar = (int32_t)(i / 4);
        s->beats[i].meant.root = US_NO_CHORD;
        for (size_t c = 0; c < s->explain.count; c++)
            if (s->chords[c].at <= (double)i) s->beats[i].chord = s->chords[c].choice.chord;
        for (int r = US_ROLE_I; r < US_ROLES; r++)
            s->beats[i].melody[r] = 1.0 / 3;
    }
    s->explain.view = (struct us_harmony_view){.beats = s->beats, .beat_count = beats};
}

static const struct {
    const char *melody, *chords;
    size_t index;
    uint32_t cause;
    const char *text; /* a part of the reason */
} ROWS[] = {
    /* The steps of each primary triad, and the ones that two share. */
    {"60 64 67 64 60/4", "I I", 0, US_CAUSE_ONLY, "are together in I alone"},
    {"60/4 65 69 65 69 60/4", "I IV I", 1, US_CAUSE_ONLY, "steps 4 and 6 are together in IV alone"},
    {"60/4 71/4 60/4", "I V I", 1, US_CAUSE_ONLY, "step 7 is in V alone"},
    {"64/4 67/4 64/4", "I V I", 1, US_CAUSE_MOVEMENT,
     "step 5 is in V and in I; I stands on both sides, so V gives"},
    {"64/4 60/4 64/4", "I IV I", 1, US_CAUSE_MOVEMENT, "step 1 is in IV and in I; I stands on both sides"},
    {"64/4 67/4 64/4", "I I I", 1, US_CAUSE_STAYS, "step 5 is in I and in V; I simply stays"},
    {"65/4 67/4 64/4", "IV V I", 1, US_CAUSE_LEADS_HOME, "V leads home to I"},
    {"71/4 67/4 65/4", "V I IV", 1, US_CAUSE_COMES_HOME, "after V it comes home"},
    {"64/4 60/4 62/4", "I IV V", 1, US_CAUSE_PREPARES, "IV prepares V"},
    /* Where in the tune. */
    {"60/4 62/4 60/4", "I V I", 0, US_CAUSE_START, "the tune starts at home, on I"},
    {"60/4 62/4 60/4", "I V I", 2, US_CAUSE_END, "the tune ends at home, on I"},
    /* Peaks and runs. */
    {"64 65 67 65 69/2 67 65 64/4", "I IV I", 1, US_CAUSE_PEAK, "the line peaks on 6, which IV lifts"},
    {"72 71 69 67 65 64 62 60", "I I", 0, US_CAUSE_RUN, "I carries the run down from 1 to 5"},
    /* Notes that do not count. */
    {"60/1.5 62/.5 64 64 60/4", "I I", 0, US_CAUSE_PASSING, "2 only passes from 1 to 3"},
    {"64/1.5 65/.5 64/2 60/4", "I I", 0, US_CAUSE_PASSING, "4 is only a neighbour of 3"},
    {"64 65 64/2 60/4", "I I", 0, US_CAUSE_PASSING, "4 is only a neighbour of 3"},
    {"64 0/.5 67 65/.5 64 60/4", "I I", 0, US_CAUSE_PASSING, "4 only passes from 5 to 3"},
    {"64 67/1.5 62/.5 64 60/4", "I I", 0, US_CAUSE_PASSING, "2 only leads to 3"},
    {"60/.5 62/.5 0/3 64/4", "V I", 0, US_CAUSE_ONLY, "step 2 is in V alone"},
    {"65 64 60/2 60/4", "I I", 0, US_CAUSE_PASSING, "4 leans on 3"},
    {"60 62 64/2 60/4", "I I", 0, US_CAUSE_PASSING, "2 only passes from 1 to 3"},
    {"60 60 62 64 60/4", "I I", 0, US_CAUSE_PASSING, "2 leans on 3"},
    /* What a chord lacks is named. */
    {"60/4 69/4 60/4", "I V I", 1, US_CAUSE_LEADS_HOME, "step 6 is not in V; V leads home to I"},
    {"60/4 65/4 60/4", "I V I", 1, US_CAUSE_SEVENTH, "step 4 makes V a V7; V leads home to I"},
    /* A held or silent melody, and a chord outside the three. */
    {"60/8", "I IV", 1, US_CAUSE_SILENT, "the melody holds its note; step 1 is in IV and in I"},
    {"60/4 0/4 60/4", "I IV I", 1, US_CAUSE_SILENT, "the melody rests"},
    {"60/4 69/4 60/4", "I vi I", 1, US_CAUSE_STAND_IN, "vi stands in for I"},
};

enum { ROW_COUNT = sizeof ROWS / sizeof *ROWS };

START_TEST(explain_row)
{
    struct scene s;
    struct us_reason reason;
    make(&s, false, ROWS[_i].melody, ROWS[_i].chords);
    const struct us_chord_choice *c = &s.chords[ROWS[_i].index];
    us_explain_chord(&s.explain, ROWS[_i].index, c->at, c->at + c->len, &reason);
    ck_assert_msg((reason.causes & ROWS[_i].cause) == ROWS[_i].cause, "row %d: causes %x: %s", _i,
                  reason.causes, reason.text);
    ck_assert_msg(strstr(reason.text, ROWS[_i].text) != NULL, "row %d: %s", _i, reason.text);
}
END_TEST

/* A clause is there only with its cause: the rows' causes are missing where the scene is turned round. */
START_TEST(explain_says_nothing_without_cause)
{
    static const struct {
        const char *melody, *chords;
        size_t index;
        uint32_t missing;
    } WITHOUT[] = {
        {"64/4 67/4 64/4", "IV V I", 1, US_CAUSE_MOVEMENT},
        {"60/4 71/4 60/4", "I V I", 1, US_CAUSE_SHARED | US_CAUSE_MOVEMENT | US_CAUSE_PASSING | US_CAUSE_RUN},
        {"60/4 62/4 60/4", "V V I", 0, US_CAUSE_START},
        {"60/4 62/4 67/4", "I V V", 2, US_CAUSE_END},
        {"64 65 67 65 69/2 67 65 64/4", "I I I", 1, US_CAUSE_PEAK},
        {"72 67 69 64 65 64 62 60", "I I", 0, US_CAUSE_RUN},
        {"60/1.5 67/.5 64 64 60/4", "I I", 0, US_CAUSE_PASSING},
        {"64/4 67/4 64/4", "I V I", 1,
         US_CAUSE_REPEAT | US_CAUSE_AROUND | US_CAUSE_CHOSEN | US_CAUSE_WRITTEN},
    };
    for (size_t i = 0; i < sizeof WITHOUT / sizeof *WITHOUT; i++) {
        struct scene s;
        struct us_reason reason;
        make(&s, false, WITHOUT[i].melody, WITHOUT[i].chords);
        const struct us_chord_choice *c = &s.chords[WITHOUT[i].index];
        us_explain_chord(&s.explain, WITHOUT[i].index, c->at, c->at + c->len, &reason);
        ck_assert_msg((reason.causes & WITHOUT[i].missing) == 0, "row %zu: %s", i, reason.text);
    }
}
END_TEST

static struct us_reason reason_of(struct scene *s, size_t index)
{
    struct us_reason reason;
    us_explain_chord(&s->explain, index, s->chords[index].at, s->chords[index].at + s->chords[index].len,
                     &reason);
    return reason;
}

START_TEST(explain_phrases_and_repeats)
{
    struct scene s;
    make(&s, false, "60/4 62/4 60/4 62/4", "I V I V");
    s.beats[7].phrase_end = true;
    ck_assert_uint_ne(reason_of(&s, 1).causes & US_CAUSE_HALF_CLOSE, 0);
    s.beats[7].phrase_end = false, s.beats[11].phrase_end = true;
    ck_assert_uint_ne(reason_of(&s, 2).causes & US_CAUSE_CLOSE, 0);
    ck_assert_uint_eq(reason_of(&s, 1).causes & US_CAUSE_HALF_CLOSE, 0);
    s.beats[12].same_as = 4;
    struct us_reason reason = reason_of(&s, 3);
    ck_assert_uint_ne(reason.causes & US_CAUSE_REPEAT, 0);
    ck_assert_ptr_nonnull(strstr(reason.text, "as in bar 2, where the melody is the same"));
    for (int32_t bar = -2; bar < 0; bar++) { /* a pickup may be longer than a bar */
        s.beats[4].position.bar = bar;
        reason = reason_of(&s, 3);
        ck_assert_ptr_nonnull(strstr(reason.text, "as in the pickup, where the melody is the same"));
    }
}
END_TEST

START_TEST(explain_what_stands_around)
{
    struct scene s;
    make(&s, false, "60/4 60/4 60/4", "I IV I");
    for (int i = 4; i < 8; i++) {
        s.beats[i].melody[US_ROLE_I] = 0.7;
        s.beats[i].melody[US_ROLE_IV] = 0.2;
    }
    struct us_reason reason = reason_of(&s, 1);
    ck_assert_uint_ne(reason.causes & US_CAUSE_AROUND, 0);
    ck_assert_ptr_nonnull(strstr(reason.text, "the notes alone would take I"));
}
END_TEST

/* A stand-in beside a chord is not taken for the primary triad itself, and a mere likelihood is called so. */
START_TEST(explain_beside_a_stand_in)
{
    struct scene s;
    make(&s, false, "69/4 64/4 60/4", "vi I vi");
    ck_assert_uint_eq(reason_of(&s, 1).causes & (US_CAUSE_STAYS | US_CAUSE_COMES_HOME), 0);
    make(&s, false, "65/4 67/4 65/4", "IV I IV");
    ck_assert_uint_eq(reason_of(&s, 1).causes & US_CAUSE_LIKELIER, 0);
    s.chords[1].choice.alternatives = 1;
    s.chords[1].choice.alternative[0] = us_chord_primary(s.request.key, US_ROLE_V);
    s.chords[1].choice.alternative_probability[0] = 0.2;
    s.chords[1].choice.probability = 0.7;
    ck_assert_uint_ne(reason_of(&s, 1).causes & US_CAUSE_LIKELIER, 0);
    s.chords[1].choice.probability = 0.1;
    ck_assert_uint_eq(reason_of(&s, 1).causes & US_CAUSE_LIKELIER, 0);
}
END_TEST

START_TEST(explain_who_settled_it)
{
    struct scene s;
    make(&s, false, "60/4 60/4 60/4", "I IV I");
    s.chords[1].given = true;
    ck_assert_ptr_nonnull(strstr(reason_of(&s, 1).text, "written so in the tune"));
    struct us_chord_span fixed = {4, 4, {5, US_CHORD_MAJ}};
    s.request.fixed = &fixed;
    s.request.fixed_count = 1;
    ck_assert_ptr_nonnull(strstr(reason_of(&s, 1).text, "you chose it"));
}
END_TEST

/* IV under step 2, where the networks mean ii. */
START_TEST(explain_what_is_meant)
{
    struct scene s;
    make(&s, false, "60/4 62/4 60/4", "I IV I");
    ck_assert_ptr_nonnull(strstr(reason_of(&s, 1).text, "step 2 is not in IV"));
    for (int i = 4; i < 8; i++)
        s.beats[i].meant = (struct us_chord){2, US_CHORD_MIN};
    struct us_reason reason = reason_of(&s, 1);
    ck_assert_uint_ne(reason.causes & US_CAUSE_STAND_IN, 0);
    ck_assert_ptr_nonnull(strstr(reason.text, "step 2 is in ii, for which IV stands"));
    for (int i = 4; i < 8; i++)
        s.beats[i].meant = (struct us_chord){9, US_CHORD_MIN};
    ck_assert_ptr_nonnull(strstr(reason_of(&s, 1).text, "step 2 is not in IV"));
}
END_TEST

/* A chord goes on under a held note; another one that begins there has its own reason. */
START_TEST(explain_held_notes)
{
    struct scene s;
    struct us_reason reason;
    make(&s, false, "60/8", "I/8");
    us_explain_chord(&s.explain, 0, 4, 8, &reason);
    ck_assert_ptr_nonnull(strstr(reason.text, "nothing new in the melody, I sounds on"));
    make(&s, false, "67/8", "I V");
    us_explain_chord(&s.explain, 1, 4, 8, &reason);
    ck_assert_ptr_null(strstr(reason.text, "sounds on"));
    ck_assert_ptr_nonnull(strstr(reason.text, "step 5 is in V and in I"));
}
END_TEST

START_TEST(explain_what_cannot_be_simplified)
{
    struct scene s;
    make(&s, false, "60/4 66/4 60/4", "I I I");
    struct us_chord_span written = {4, 4, {2, US_CHORD_DOM7}};
    s.tune.chords = &written;
    s.tune.chord_count = 1;
    ck_assert_uint_eq(reason_of(&s, 1).causes & US_CAUSE_SIMPLIFIED, 0);
    s.explain.simplified = true;
    ck_assert_ptr_nonnull(strstr(reason_of(&s, 1).text, "written D7, for which no primary triad stands"));
    ck_assert_uint_eq(reason_of(&s, 0).causes & US_CAUSE_SIMPLIFIED, 0);
}
END_TEST

static void propose(struct scene *s, size_t index, enum us_role role)
{
    s->chords[index].choice.alternatives = 1;
    s->chords[index].choice.alternative[0] = us_chord_primary(s->request.key, role);
}

START_TEST(explain_other_chords_beside_the_one_taken)
{
    struct scene s;
    struct us_reason reason;
    make(&s, false, "64/4 62/4 64/4", "I IV I");
    propose(&s, 1, US_ROLE_V);
    us_explain_alternative(&s.explain, 1, 0, 4, 8, &reason);
    ck_assert_str_eq(reason.text, "step 2 is in V; it would lead home to I");
    make(&s, false, "64/4 67/4 64/4", "I I I");
    propose(&s, 1, US_ROLE_V);
    us_explain_alternative(&s.explain, 1, 0, 4, 8, &reason);
    ck_assert_str_eq(reason.text, "step 5 is in V too; I stands on both sides, so V would give movement");
    make(&s, false, "64/4 65/4 64/4", "I IV IV");
    propose(&s, 1, US_ROLE_V);
    us_explain_alternative(&s.explain, 1, 0, 4, 8, &reason);
    ck_assert_str_eq(reason.text, "step 4 would make V a V7");
}
END_TEST

START_TEST(explain_alternatives)
{
    struct scene s;
    struct us_reason reason;
    make(&s, false, "64/4 67/4 64/4", "I V I");
    s.chords[1].choice.alternatives = 2;
    s.chords[1].choice.alternative[0] = us_chord_primary(s.request.key, US_ROLE_I);
    s.chords[1].choice.alternative[1] = us_chord_primary(s.request.key, US_ROLE_IV);
    us_explain_alternative(&s.explain, 1, 0, 4, 8, &reason);
    ck_assert_str_eq(reason.text, "step 5 is in I too; I could simply stay");
    us_explain_alternative(&s.explain, 1, 1, 4, 8, &reason);
    ck_assert_str_eq(reason.text, "step 5 is not in IV");
    make(&s, false, "64 65 67 65 69 67 69 65 64/4", "I I I");
    s.chords[1].choice.alternatives = 1;
    s.chords[1].choice.alternative[0] = us_chord_primary(s.request.key, US_ROLE_IV);
    us_explain_alternative(&s.explain, 1, 0, 4, 8, &reason);
    ck_assert_uint_eq(reason.causes & US_CAUSE_PEAK, 0);
    make(&s, false, "64 67 72 67 64/4", "I I");
    s.chords[0].choice.alternatives = 1;
    s.chords[0].choice.alternative[0] = us_chord_primary(s.request.key, US_ROLE_IV);
    us_explain_alternative(&s.explain, 0, 0, 0, 4, &reason);
    ck_assert_ptr_nonnull(strstr(reason.text, "IV would lift the peak on 1"));
}
END_TEST

START_TEST(explain_minor_and_syllables)
{
    struct scene s;
    make(&s, true, "60/4 71/4 60/4", "I V I");
    ck_assert_ptr_nonnull(strstr(reason_of(&s, 1).text, "step raised 7 is in V alone"));
    ck_assert_ptr_nonnull(strstr(reason_of(&s, 0).text, "starts at home, on i"));
    s.explain.names = US_STEPS_LA;
    ck_assert_ptr_nonnull(strstr(reason_of(&s, 1).text, "si is in V alone"));
    s.explain.names = US_STEPS_DO;
    ck_assert_ptr_nonnull(strstr(reason_of(&s, 1).text, "ti is in V alone"));
}
END_TEST

int main(void)
{
    TCase *rows = tcase_create("rows");
    tcase_add_loop_test(rows, explain_row, 0, ROW_COUNT);
    const TTest *const TESTS[] = {explain_says_nothing_without_cause,
                                  explain_phrases_and_repeats,
                                  explain_what_stands_around,
                                  explain_beside_a_stand_in,
                                  explain_who_settled_it,
                                  explain_what_is_meant,
                                  explain_held_notes,
                                  explain_what_cannot_be_simplified,
                                  explain_other_chords_beside_the_one_taken,
                                  explain_alternatives,
                                  explain_minor_and_syllables};
    return run_tests_and_case("explain", TESTS, sizeof TESTS / sizeof *TESTS, rows, ROW_COUNT);
}
