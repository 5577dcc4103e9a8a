/* Lesson sheets: values, spelling, the tune laid out in every key, and the text and LilyPond source of one
   sheet compared with files that were looked at as pages. */
#include "support.h"

#include "../src/io/lilypond_parts.h"
#include "../src/io/sheet_values.h"
#include "undersong/abc.h"
#include "undersong/musicxml.h"

#include <stdlib.h>
#include <string.h>

enum { Q = US_SHEET_QUARTER };

START_TEST(sheet_values)
{
    static const struct {
        struct us_metre metre;
        int32_t from, len;
        bool rest;
        const char *values;
    } ROWS[] = {
        {{4, 4}, 0, 4 * Q, false, "1"},          {{4, 4}, Q, 3 * Q / 2, false, "4."},
        {{4, 4}, 0, 5 * Q / 2, false, "2 8"},    {{4, 4}, 3 * Q / 2, 5 * Q / 2, false, "8 2"},
        {{4, 4}, 0, 5 * Q / 4, false, "4 16"},   {{4, 4}, Q, 3 * Q, true, "4 2"},
        {{4, 4}, Q / 2, 3 * Q / 2, true, "8 4"}, {{3, 4}, 0, 3 * Q, false, "2."},
        {{6, 8}, 0, 5 * Q / 2, false, "4. 4"},   {{6, 8}, Q / 2, 5 * Q / 2, true, "4 4."},
        {{9, 8}, 0, 9 * Q / 2, false, "2. 4."},  {{5, 4}, 0, 5 * Q, false, "1 4"},
    };
    for (size_t i = 0; i < sizeof ROWS / sizeof *ROWS; i++) {
        int32_t pieces[VALUES_MAX], sum = 0;
        char got[100] = "", value[24];
        size_t count = value_cut(ROWS[i].metre, ROWS[i].from, ROWS[i].len, ROWS[i].rest, pieces);
        for (size_t n = 0; n < count; n++) {
            snprintf(got + strlen(got), sizeof got - strlen(got), "%s%s", n ? " " : "",
                     lily_value(pieces[n], value, sizeof value));
            sum += pieces[n];
        }
        ck_assert_msg(strcmp(got, ROWS[i].values) == 0, "row %zu: %s, not %s", i, got, ROWS[i].values);
        ck_assert_int_eq(sum, ROWS[i].len);
    }
}
END_TEST

/* Whatever is cut comes out whole, in pieces of more than nothing. */
START_TEST(sheet_values_add_up)
{
    static const struct us_metre METRES[] = {{4, 4}, {3, 4}, {2, 2}, {6, 8}, {9, 8}, {5, 4}, {7, 8}, {3, 8}};
    for (size_t m = 0; m < sizeof METRES / sizeof *METRES; m++)
        for (int32_t from = 0; from < 4 * Q; from += Q / 12)
            for (int32_t len = Q / 12; len <= 4 * Q; len += Q / 12)
                for (int rest = 0; rest < 2; rest++) {
                    int32_t pieces[VALUES_MAX], sum = 0;
                    size_t count = value_cut(METRES[m], from, len, rest, pieces);
                    for (size_t i = 0; i < count; i++) {
                        ck_assert_int_gt(pieces[i], 0);
                        sum += pieces[i];
                    }
                    ck_assert_int_eq(sum, len);
                }
}
END_TEST

START_TEST(sheet_triplets)
{
    const int32_t plain[] = {0, Q, Q + Q / 2, 2 * Q};
    const int32_t eighths[] = {0, Q, Q + Q / 3, Q + 2 * Q / 3, 2 * Q, 4 * Q};
    const int32_t quarters[] = {0, 2 * Q / 3, 4 * Q / 3, 2 * Q, 4 * Q};
    const int32_t sixteenths[] = {0, Q / 2, Q / 2 + Q / 6, Q / 2 + Q / 3, Q, 2 * Q};
    int32_t at, len;
    ck_assert(!value_triplet(plain, 4, 0, &at, &len));
    ck_assert(value_triplet(eighths, 6, 0, &at, &len) && at == Q && len == Q);
    ck_assert(!value_triplet(eighths, 6, 4, &at, &len));
    ck_assert(value_triplet(quarters, 5, 0, &at, &len) && at == 0 && len == 2 * Q);
    ck_assert(value_triplet(sixteenths, 6, 0, &at, &len) && at == Q / 2 && len == Q / 2);
}
END_TEST

/* LilyPond 2.24, notation reference, 1.1.1 "Writing pitches": Dutch names, c' is middle C. */
START_TEST(sheet_pitch_names)
{
    static const struct {
        int pitch, place;
        const char *name;
    } ROWS[] = {
        {60, 0, "c'"},    {48, 0, "c"},       {47, 5, "b,"},   {72, 0, "c''"},
        {66, 6, "fis'"},  {66, -6, "ges'"},   {58, -2, "bes"}, {60, 12, "bis"},
        {59, -7, "ces'"}, {67, 13, "fisis'"}, {61, 7, "cis'"},
    };
    char name[16];
    for (size_t i = 0; i < sizeof ROWS / sizeof *ROWS; i++)
        ck_assert_str_eq(lily_pitch(ROWS[i].pitch, ROWS[i].place, name, sizeof name), ROWS[i].name);
}
END_TEST

START_TEST(sheet_quotes)
{
    char got[100] = {0};
    FILE *out = fmemopen(got, sizeof got, "w");
    lily_quote("a \"b\" \\c\n#(d)", out);
    fclose(out);
    ck_assert_str_eq(got, "\"a \\\"b\\\" \\\\c #(d)\"");
}
END_TEST

/* A pickup, a repeat that divides a bar, a triplet and two endings. */
static const char BOAT[] = "X:1\nT:The Lantern Boat\nC:made up\nM:3/4\nL:1/4\nK:G\n"
                           "D|\"G\"G G/A/ B|B>A G|\"D\"A F D|\"G\"G2:|\n"
                           "|:B|\"G\"d>c B|\"C\"c A G|\"D\"(3F/G/A/ B D|[1 \"G\"G2:|[2 \"G\"G3|]\n";

static struct us_sheet arrange(const char *abc, const char *key, bool fingering)
{
    struct us_tune_file file;
    struct us_error error = {0};
    ck_assert_msg(!us_abc_read(abc, strlen(abc), "t.abc", 0, &file, &error), "%s", error.text);
    struct us_sheet_settings settings = {.chords = US_CHORDS_PRIMARY,
                                         .left_hand = true,
                                         .fingering = fingering,
                                         .pickup = -1,
                                         .key = {US_NO_KEY, 0}};
    if (key) ck_assert(us_key_parse(key, &settings.key));
    struct us_sheet sheet;
    ck_assert_msg(!us_sheet_arrange(&sheet, &file.tune, &settings, "t.abc", &error), "%s", error.text);
    us_tune_file_finish(&file);
    return sheet;
}

START_TEST(sheet_folds_repeats)
{
    struct us_sheet sheet = arrange(BOAT, NULL, true);
    static const int32_t BARS[] = {Q, 3 * Q, 3 * Q, 3 * Q, 2 * Q, Q, 3 * Q, 3 * Q, 3 * Q, 2 * Q, 3 * Q};
    ck_assert_uint_eq(sheet.bar_count, sizeof BARS / sizeof *BARS);
    int32_t at = 0;
    for (size_t i = 0; i < sheet.bar_count; i++) {
        ck_assert_int_eq(sheet.bars[i].at, at);
        ck_assert_int_eq(sheet.bars[i].len, BARS[i]);
        at += BARS[i];
    }
    ck_assert_int_eq(sheet.bars[4].repeat_times, 2);
    ck_assert(sheet.bars[5].repeat_from);
    ck_assert_int_eq(sheet.bars[9].endings, 1 << 1);
    ck_assert_int_eq(sheet.bars[10].endings, 1 << 2);
    /* The left hand is silent under both pickups, and struck in every other bar. */
    for (size_t b = 0; b < sheet.bar_count; b++) {
        bool struck = false;
        for (size_t i = 0; i < sheet.left_count; i++)
            struck = struck || sheet.left[i].at == sheet.bars[b].at;
        ck_assert_msg(struck == (b != 0 && b != 5), "bar %zu", b);
    }
    us_sheet_finish(&sheet);
}
END_TEST

static void check_left_is_below(const struct us_sheet *sheet, const struct us_sheet_sound *notes,
                                size_t count)
{
    ck_assert_uint_gt(sheet->left_count, 0);
    for (size_t i = 0; i < sheet->left_count; i++) {
        const struct us_sheet_sound *left = &sheet->left[i];
        for (size_t n = 0; n < count; n++) {
            const struct us_sheet_sound *note = &notes[n];
            if (note->at >= left->at + left->len || note->at + note->len <= left->at) continue;
            ck_assert_int_lt(left->pitch[left->count - 1], note->pitch[0]);
        }
    }
}

static void check_phrases(const struct us_sheet *sheet)
{
    bool open = false;
    int phrases = 0;
    for (size_t i = 0; i < sheet->melody_count; i++) {
        if (sheet->melody[i].phrase_opens) {
            ck_assert(!open);
            open = true;
            phrases++;
        }
        if (sheet->melody[i].phrase_closes) {
            ck_assert(open);
            open = false;
        }
    }
    ck_assert(!open);
    ck_assert_int_ge(phrases, 2);
}

/* In every key the same steps, chords and bars; the melody stays where the right hand plays. */
START_TEST(sheet_in_every_key)
{
    static const char *const KEYS[] = {"C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B"};
    struct us_sheet home = arrange(BOAT, NULL, false);
    for (size_t k = 0; k < 12; k++) {
        struct us_sheet sheet = arrange(BOAT, KEYS[k], true);
        char step[16], home_step[16], numeral[16], home_numeral[16];
        ck_assert_uint_eq(sheet.melody_count, home.melody_count);
        ck_assert_uint_eq(sheet.chord_count, home.chord_count);
        for (size_t i = 0; i < sheet.melody_count; i++) {
            const struct us_sheet_sound *s = &sheet.melody[i];
            us_sheet_word(&sheet, s, step, sizeof step);
            us_sheet_word(&home, &home.melody[i], home_step, sizeof home_step);
            ck_assert_str_eq(step, home_step);
            ck_assert(s->pitch[0] >= 53 && s->pitch[0] <= 86 && s->finger >= 1 && s->finger <= 5);
            ck_assert_int_eq(us_pitch_class(s->place[0] * 7), us_pitch_class(s->pitch[0]));
        }
        for (size_t i = 0; i < sheet.chord_count; i++) {
            us_chord_numeral(sheet.chords[i].chord, sheet.key, numeral, sizeof numeral);
            us_chord_numeral(home.chords[i].chord, home.key, home_numeral, sizeof home_numeral);
            ck_assert_str_eq(numeral, home_numeral);
        }
        check_left_is_below(&sheet, sheet.melody, sheet.melody_count);
        check_phrases(&sheet);
        us_sheet_finish(&sheet);
    }
    us_sheet_finish(&home);
}
END_TEST

/* What a sheet's MusicXML and abc play when they are read again: the tune, moved to the key. */
static void check_reads_back(const struct us_tune *tune, const struct us_tune *again,
                             const struct us_sheet *sheet)
{
    ck_assert_uint_eq(again->note_count, tune->note_count);
    for (size_t i = 0; i < tune->note_count; i++) {
        ck_assert_int_eq(again->notes[i].pitch, tune->notes[i].pitch + sheet->shift);
        ck_assert_double_eq_tol(again->notes[i].at, tune->notes[i].at, 1e-6);
        ck_assert_double_eq_tol(again->notes[i].len, tune->notes[i].len, 1e-6);
    }
    ck_assert(us_key_equal(again->key, sheet->key));
    ck_assert_uint_gt(again->chord_count, 0);
}

/* A duet keeps both voices, and the left hand stays under the lower one; a short last bar is no pickup. */
START_TEST(sheet_of_a_duet)
{
    static const char DUET[] =
        "X:1\nT:t\nM:3/4\nL:1/4\nK:F\nV:1\nC|F G A|B A G|A2 F|F2|]\nV:2\nC|C E F|G F E|F2 C|C2|]\n";
    struct us_sheet sheet = arrange(DUET, "D", true);
    ck_assert_uint_eq(sheet.melody_count, sheet.second_count);
    ck_assert_int_eq(sheet.second[1].pitch[0], 60 + sheet.shift);
    check_left_is_below(&sheet, sheet.second, sheet.second_count);
    ck_assert_int_eq(sheet.left[sheet.left_count - 1].at, sheet.bars[sheet.bar_count - 1].at);
    char *text = NULL;
    size_t size;
    FILE *out = open_memstream(&text, &size);
    us_sheet_lilypond(&sheet, 1, false, out);
    us_sheet_text(&sheet, 80, out);
    us_sheet_musicxml(&sheet, 1, out);
    fclose(out);
    ck_assert_ptr_nonnull(strstr(text, "\\voiceTwo \\secondA"));
    ck_assert_ptr_nonnull(strstr(text, "\nsecond "));
    ck_assert_ptr_nonnull(strstr(text, "<voice>2</voice>"));
    free(text);
    us_sheet_finish(&sheet);
}
END_TEST

/* A part in another key: its signature, steps and numerals are that key's, in every key of the sheet. */
START_TEST(sheet_of_two_keys)
{
    static const char TUNE[] =
        "X:1\nT:t\nM:4/4\nL:1/4\nK:G\n\"G\"G A B G|\"D\"A F \"G\"G2|[K:D]\"D\"d e f d|\"A\"e c \"D\"d2|]\n";
    struct us_sheet sheet = arrange(TUNE, "F", false);
    char word[16], numeral[16];
    ck_assert(us_key_equal(sheet.bars[1].key, (struct us_key){5, US_MODE_MAJOR}));
    ck_assert(us_key_equal(sheet.bars[2].key, (struct us_key){0, US_MODE_MAJOR}));
    ck_assert_str_eq(us_sheet_word(&sheet, &sheet.melody[7], word, sizeof word), "1");
    const struct us_sheet_chord *last = &sheet.chords[sheet.chord_count - 1];
    ck_assert_str_eq(us_chord_numeral(last->chord, last->key, numeral, sizeof numeral), "I");
    char *text = NULL;
    size_t size;
    FILE *out = open_memstream(&text, &size);
    us_sheet_lilypond(&sheet, 1, false, out);
    us_sheet_musicxml(&sheet, 1, out);
    fclose(out);
    ck_assert_ptr_nonnull(strstr(text, "\\key f \\major"));
    ck_assert_ptr_nonnull(strstr(text, " \\key c \\major c'"));
    ck_assert_ptr_nonnull(strstr(text, "<key><fifths>0</fifths>"));
    free(text);
    us_sheet_finish(&sheet);
}
END_TEST

START_TEST(sheet_for_other_programs)
{
    static const char *const KEYS[] = {"G", "Eb", "A"};
    struct us_error error = {0};
    struct us_tune_file file, again;
    ck_assert(!us_abc_read(BOAT, strlen(BOAT), "t.abc", 0, &file, &error));
    for (size_t k = 0; k < 3; k++) {
        struct us_sheet sheet = arrange(BOAT, KEYS[k], true);
        char *xml = NULL, *abc = NULL;
        size_t size;
        FILE *out = open_memstream(&xml, &size);
        us_sheet_musicxml(&sheet, 1, out);
        fclose(out);
        ck_assert_msg(!us_musicxml_read(xml, size, "t.musicxml", &again, &error), "%s", error.text);
        check_reads_back(&file.tune, &again.tune, &sheet);
        us_tune_file_finish(&again);
        out = open_memstream(&abc, &size);
        ck_assert_msg(!us_sheet_abc(&sheet, &file.tune, 1, out, &error), "%s", error.text);
        fclose(out);
        ck_assert_msg(!us_abc_read(abc, size, "t.abc", 0, &again, &error), "%s", error.text);
        check_reads_back(&file.tune, &again.tune, &sheet);
        ck_assert_ptr_nonnull(strstr(abc, "::"));
        us_tune_file_finish(&again);
        free(xml);
        free(abc);
        us_sheet_finish(&sheet);
    }
    us_tune_file_finish(&file);
}
END_TEST

/* As the other writers have them: a pickup is no bar, nor is the rest of one that a repeat sign divides. */
START_TEST(sheet_measure_numbers)
{
    struct us_sheet sheets[] = {arrange(BOAT, NULL, false), arrange(BOAT, "D", false)};
    char *xml = NULL, numbers[200] = "";
    size_t size;
    FILE *out = open_memstream(&xml, &size);
    us_sheet_musicxml(sheets, 2, out);
    fclose(out);
    for (const char *at = xml; (at = strstr(at, "<measure number=\""));) {
        at += strlen("<measure number=\"");
        size_t used = strlen(numbers);
        snprintf(numbers + used, sizeof numbers - used, "%.*s ", (int)strcspn(at, "\""), at);
    }
    ck_assert_str_eq(numbers, "0 1 2 3 4 X1 5 6 7 8 9 X2 10 11 12 13 X3 14 15 16 17 18 ");
    free(xml);
    us_sheet_finish(&sheets[0]);
    us_sheet_finish(&sheets[1]);
}
END_TEST

START_TEST(sheet_of_nothing)
{
    struct us_tune empty = {.title = ""};
    struct us_sheet_settings settings = {.pickup = -1};
    struct us_sheet sheet;
    struct us_error error = {0};
    ck_assert_int_eq(us_sheet_arrange(&sheet, &empty, &settings, "e.mid", &error), US_STATUS_BAD_INPUT);
    ck_assert_msg(strstr(error.text, "e.mid"), "%s", error.text);
    us_sheet_finish(&(struct us_sheet){0});
}
END_TEST

/* A sheet by hand, so that only the writers speak. */
static struct us_sheet_bar bars[] = {
    {.at = 0, .len = Q, .metre = {3, 4}},
    {.at = Q, .len = 3 * Q, .metre = {3, 4}},
    {.at = 4 * Q, .len = 2 * Q, .metre = {3, 4}, .repeat_times = 2},
    {.at = 6 * Q, .len = Q, .metre = {3, 4}, .repeat_from = true},
    {.at = 7 * Q, .len = 3 * Q, .metre = {3, 4}},
    {.at = 10 * Q, .len = 2 * Q, .metre = {3, 4}, .endings = 2, .repeat_times = 2},
    {.at = 12 * Q, .len = 3 * Q, .metre = {3, 4}, .endings = 4, .closes = true},
};
static struct us_sheet_sound melody[] = {
    {.at = 0, .len = Q, .count = 1, .pitch = {62}, .place = {2}, .finger = 1, .phrase_opens = true},
    {.at = Q, .len = 3 * Q / 2, .count = 1, .pitch = {66}, .place = {6}, .finger = 2},
    {.at = 5 * Q / 2, .len = Q / 2, .count = 1, .pitch = {67}, .place = {1}, .finger = 3},
    {.at = 3 * Q, .len = 2 * Q, .count = 1, .pitch = {69}, .place = {3}, .finger = 4},
    {.at = 5 * Q, .len = Q, .count = 1, .pitch = {67}, .place = {1}, .finger = 3, .phrase_closes = true},
    {.at = 6 * Q, .len = Q, .count = 1, .pitch = {68}, .place = {8}, .finger = 2, .phrase_opens = true},
    {.at = 7 * Q, .len = Q / 3, .count = 1, .pitch = {69}, .place = {3}, .finger = 3, .slur_opens = true},
    {.at = 7 * Q + Q / 3, .len = Q / 3, .count = 1, .pitch = {71}, .place = {5}, .finger = 4},
    {.at = 7 * Q + 2 * Q / 3,
     .len = Q / 3,
     .count = 1,
     .pitch = {73},
     .place = {7},
     .finger = 5,
     .slur_closes = true},
    {.at = 9 * Q, .len = Q, .count = 1, .pitch = {69}, .place = {3}, .finger = 3, .phrase_closes = true},
    {.at = 10 * Q, .len = 2 * Q, .count = 1, .pitch = {74}, .place = {2}, .finger = 5},
    {.at = 12 * Q, .len = 3 * Q, .count = 1, .pitch = {62}, .place = {2}, .finger = 1},
};
static struct us_sheet_sound left[] = {
    {.at = Q, .len = 3 * Q, .count = 3, .pitch = {50, 54, 57}, .place = {2, 6, 3}},
    {.at = 4 * Q, .len = 2 * Q, .count = 3, .pitch = {49, 52, 57}, .place = {7, 4, 3}},
    {.at = 7 * Q, .len = 3 * Q, .count = 1, .pitch = {45}, .place = {3}},
    {.at = 10 * Q, .len = 2 * Q, .count = 2, .pitch = {50, 57}, .place = {2, 3}},
    {.at = 12 * Q, .len = 3 * Q, .count = 2, .pitch = {50, 57}, .place = {2, 3}},
};
static struct us_sheet_chord chords[] = {
    {Q, 3 * Q, {2, US_MODE_MAJOR}, {2, US_CHORD_MAJ}, {US_NO_CHORD, 0}},
    {4 * Q, 2 * Q, {2, US_MODE_MAJOR}, {9, US_CHORD_MAJ}, {4, US_CHORD_MIN}},
    {7 * Q, 3 * Q, {2, US_MODE_MAJOR}, {9, US_CHORD_DOM7}, {US_NO_CHORD, 0}},
    {10 * Q, 2 * Q, {2, US_MODE_MAJOR}, {2, US_CHORD_MAJ}, {11, US_CHORD_MIN}},
    {12 * Q, 3 * Q, {2, US_MODE_MAJOR}, {2, US_CHORD_MAJ}, {US_NO_CHORD, 0}},
};

#define COUNT(array) (sizeof(array) / sizeof *(array))
static struct us_sheet hand_made(void)
{
    static const struct us_key D = {2, US_MODE_MAJOR};
    for (size_t i = 0; i < COUNT(bars); i++)
        bars[i].key = D;
    for (size_t i = 0; i < COUNT(melody); i++)
        melody[i].key = D;
    return (struct us_sheet){
        .settings = {.left_hand = true, .fingering = true, .texture = US_TEXTURE_BLOCK},
        .key = {2, US_MODE_MAJOR},
        .metre = {3, 4},
        .quarters_a_minute = 100,
        .title = "The \"Little\" Ferry",
        .composer = "made up",
        .bars = bars,
        .bar_count = COUNT(bars),
        .melody = melody,
        .melody_count = COUNT(melody),
        .left = left,
        .left_count = COUNT(left),
        .chords = chords,
        .chord_count = COUNT(chords),
    };
}

/* Compares with tests/golden/NAME; what was written instead is left in the working folder. */
static void compare(const char *name, const char *got)
{
    char path[500], wanted[20000] = "";
    snprintf(path, sizeof path, "%s/golden/%s", TEST_SOURCE_DIR, name);
    FILE *file = fopen(path, "r");
    size_t size = file ? fread(wanted, 1, sizeof wanted - 1, file) : 0;
    if (file) fclose(file);
    wanted[size] = 0;
    if (strcmp(got, wanted) == 0) return;
    file = fopen(name, "w");
    if (file) fputs(got, file), fclose(file);
    ck_abort_msg("%s differs from what is in %s now", path, name);
}

START_TEST(sheet_lilypond_source)
{
    struct us_sheet sheets[2] = {hand_made(), hand_made()};
    sheets[1].settings.left_hand = sheets[1].settings.fingering = false;
    sheets[1].settings.under = US_SHEET_UNDER_SYLLABLES;
    char *text = NULL;
    size_t size;
    FILE *out = open_memstream(&text, &size);
    us_sheet_lilypond(sheets, 2, false, out);
    fclose(out);
    compare("sheet.ly", text);
    free(text);
}
END_TEST

/* Of a line in UTF-8: bytes that begin a letter. */
static size_t columns(const char *line)
{
    size_t count = 0;
    for (; *line && *line != '\n'; line++)
        count += (*line & 0xC0) != 0x80;
    return count;
}

static char *plain_text(int width)
{
    struct us_sheet sheet = hand_made();
    char *text = NULL;
    size_t size;
    FILE *out = open_memstream(&text, &size);
    us_sheet_text(&sheet, width, out);
    fclose(out);
    return text;
}

START_TEST(sheet_plain_text)
{
    char *text = plain_text(61); /* exactly what four of the bars take */
    compare("sheet.txt", text);
    free(text);
}
END_TEST

/* Every bar of this sheet fits into 30 columns; the words above and below them are as long as they are. */
START_TEST(sheet_plain_text_keeps_to_the_width)
{
    for (size_t width = 30; width <= 100; width++) {
        char *text = plain_text((int)width);
        for (const char *line = text; *line; line += strcspn(line, "\n") + 1)
            ck_assert_msg(columns(line) <= width || !memchr(line, '|', strcspn(line, "\n")), "%zu: %s", width,
                          line);
        free(text);
    }
}
END_TEST

int main(void)
{
    const TTest *const TESTS[] = {sheet_values,
                                  sheet_values_add_up,
                                  sheet_triplets,
                                  sheet_pitch_names,
                                  sheet_quotes,
                                  sheet_folds_repeats,
                                  sheet_in_every_key,
                                  sheet_of_a_duet,
                                  sheet_of_two_keys,
                                  sheet_for_other_programs,
                                  sheet_measure_numbers,
                                  sheet_of_nothing,
                                  sheet_lilypond_source,
                                  sheet_plain_text,
                                  sheet_plain_text_keeps_to_the_width};
    return RUN_TESTS("sheet", TESTS);
}
