/* MusicXML: the W3C MusicXML 4.0 reference (w3.org/2021/06/musicxml40), element by element, and round trips.
   The schema and other programs check what we write in musicxml_outside. */
#include "support.h"

#include "same_tune.h"
#include "undersong/abc.h"
#include "undersong/musicxml.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <zip.h>

static char *write_score(const struct us_tune *tune)
{
    char *text = NULL;
    size_t size;
    struct us_error error = {0};
    FILE *to = open_memstream(&text, &size);
    ck_assert_msg(us_musicxml_write(tune, to, &error) == US_STATUS_OK, "%s", error.text);
    fclose(to);
    return text;
}

static struct us_tune_file read_score(const char *text)
{
    struct us_tune_file file;
    struct us_error error = {0};
    ck_assert_msg(us_musicxml_read(text, strlen(text), "t.xml", &file, &error) == US_STATUS_OK, "%.2500s\n%s",
                  text, error.text);
    return file;
}

static struct us_tune_file read_abc(const char *text)
{
    struct us_tune_file file;
    struct us_error error = {0};
    ck_assert_msg(us_abc_read(text, strlen(text), "t.abc", 0, &file, &error) == US_STATUS_OK, "%s\n%s", text,
                  error.text);
    return file;
}

/* ABC -> MusicXML -> ABC. */
static void expect_round_trip(const char *abc)
{
    struct us_tune_file first = read_abc(abc);
    char *score = write_score(&first.tune);
    struct us_tune_file second = read_score(score);
    char *what = malloc(strlen(abc) + strlen(score) + 100);
    sprintf(what, "%s\n--- written as\n%s", abc, score);
    expect_same_tune(&first.tune, &second.tune, what);
    char *back = NULL;
    size_t size;
    FILE *to = open_memstream(&back, &size);
    ck_assert_int_eq(us_abc_write(&second.tune, 1, to, NULL), US_STATUS_OK);
    fclose(to);
    struct us_tune_file third = read_abc(back);
    expect_same_tune(&first.tune, &third.tune, what);
    free(what);
    free(score);
    free(back);
    us_tune_file_finish(&first);
    us_tune_file_finish(&second);
    us_tune_file_finish(&third);
}

START_TEST(musicxml_round_trips)
{
    char text[8000];
    for (unsigned seed = 0; seed < 400; seed++) {
        random_abc(seed, text, sizeof text);
        expect_round_trip(text);
    }
}
END_TEST

START_TEST(musicxml_round_trips_as_written)
{
    struct us_tune_file first = read_abc("X:1\nT:<Quay> & \"Co\"\nC:A & B\nM:3/4\nL:1/4\nQ:1/4=72\nK:Bb\n"
                                         "F|:\"Bb\"(BdB)|1\"F7\"c2F:|2\"F7\"(3cdc B|]");
    char *score = write_score(&first.tune);
    struct us_tune_file second = read_score(score);
    expect_same_tune(&first.tune, &second.tune, score);
    ck_assert_str_eq(second.tune.composer, "A & B");
    for (size_t i = 0; i < first.tune.bar_count; i++) {
        const struct us_bar *a = &first.tune.bars[i], *b = &second.tune.bars[i];
        ck_assert(a->written == b->written && a->endings == b->endings &&
                  a->repeat_times == b->repeat_times && a->repeat_from == b->repeat_from);
    }
    free(score);
    us_tune_file_finish(&first);
    us_tune_file_finish(&second);
}
END_TEST

/* One note of the shorthand below, without its brackets. */
static size_t put_note(char *out, const char *in, size_t length)
{
    bool chord = *in == '+';
    char step = in[chord], octave[12], duration[8];
    int end = 0;
    sscanf(in + chord + 1, "%11[0-9] %7[-0-9e]%n", octave, duration, &end);
    end += 1 + chord;
    return (size_t)sprintf(out,
                           "<note>%s<pitch><step>%c</step>%s<octave>%s</octave></pitch>"
                           "<duration>%s</duration>%.*s</note>",
                           chord ? "<chord/>" : "", step == 'H' ? 'B' : step,
                           step == 'H' ? "<alter>-1</alter>" : "", octave, duration, (int)length - end,
                           in + end);
}

/* A score in short: {2} are two divisions a quarter, [C4 1] is a note of that pitch (H is B flat) and
   duration, [C4 1 <staff>2</staff>] has more elements after it, [+G4 1] belongs to the chord of the note
   before; measures alone are the only part. */
static const char *written_out(const char *text)
{
    static char out[6000];
    bool whole = strncmp(text, "<measure", 8) != 0;
    size_t n =
        (size_t)sprintf(out, "%s", whole ? "" : "<score-partwise version='4.0'><part-list/><part id='P1'>");
    for (; *text; text++) {
        ck_assert_uint_lt(n, sizeof out - 1000);
        size_t length = strcspn(text, "]}");
        if (*text == '[')
            n += put_note(out + n, text + 1, length - 1);
        else if (*text == '{')
            n += (size_t)sprintf(out + n, "<attributes><divisions>%.*s</divisions></attributes>",
                                 (int)length - 1, text + 1);
        else
            out[n++] = *text;
        if (*text == '[' || *text == '{') text += length;
    }
    strcpy(out + n, whole ? "" : "</part></score-partwise>");
    return out;
}

static void expect_notes(const char *text, const char *expected)
{
    struct us_tune_file file = read_score(written_out(text));
    char got[2000] = "";
    size_t n = 0;
    for (size_t i = 0; i < file.tune.note_count; i++)
        n += (size_t)snprintf(got + n, sizeof got - n, "%s%d@%.4g+%.4g", i ? " " : "",
                              file.tune.notes[i].pitch, file.tune.notes[i].at, file.tune.notes[i].len);
    ck_assert_msg(strcmp(got, expected) == 0, "%s\n got %s\nwant %s", text, got, expected);
    us_tune_file_finish(&file);
}

START_TEST(musicxml_elements)
{
    static const struct {
        const char *text, *notes;
    } ROWS[] = {
        /* <divisions>: of a quarter; may change */
        {"<measure>{2}[C4 2]{3}[D4 1]</measure>", "60@0+1 62@1+0.3333"},
        /* <chord/> does not advance time; the highest is the melody */
        {"<measure>{1}[C4 1][+G4 1][D4 1]</measure>", "67@0+1 62@1+1"},
        /* <grace/> and <cue/> take no time here */
        {"<measure>{1}<note><grace/><pitch><step>B</step><octave>5</octave></pitch></note>[C4 1]</measure>",
         "60@0+1"},
        {"<measure>{1}<note><cue/><pitch><step>B</step><octave>5</octave></pitch><duration>1</duration></"
         "note>"
         "[C4 1]</measure>",
         "60@0+1"},
        /* <backup> and voices: the first voice is the melody */
        {"<measure>{1}[E5 2<voice>1</voice>]<backup><duration>2</duration></backup>[C4 1<voice>2</voice>]"
         "<forward><duration>1</duration></forward>[F5 1<voice>1</voice>]</measure>",
         "76@0+2 77@2+1"},
        /* a second staff is not the melody */
        {"<measure>{1}[E5 1<voice>1</voice><staff>1</staff>]<backup><duration>1</duration></backup>"
         "[C3 1<voice>1</voice><staff>2</staff>]</measure>",
         "76@0+1"},
        /* <alter>, <rest>, <tie> over the bar line */
        {"<measure>{1}<note><rest/><duration>1</duration></note>[H4 1<tie type='start'/>]</measure>"
         "<measure>[H4 3<tie type='stop'/>]</measure>",
         "70@1+4"},
        /* <repeat>, times, <ending> */
        {"<measure>{1}<barline location='left'><repeat direction='forward'/></barline>[C4 1]</measure>"
         "<measure><barline location='left'><ending number='1, 2' type='start'/></barline>[D4 1]"
         "<barline location='right'><ending number='1, 2' type='stop'/><repeat direction='backward' "
         "times='3'/></barline></measure>"
         "<measure><barline location='left'><ending number='3' type='start'/></barline>[E4 1]"
         "<barline location='right'><ending number='3' type='discontinue'/></barline></measure>",
         "60@0+1 62@1+1 60@2+1 62@3+1 60@4+1 64@5+1"},
        /* <transpose>: as it sounds (a clarinet in B-flat, written D sounds C) */
        {"<measure><attributes><divisions>1</divisions><transpose><diatonic>-1</diatonic>"
         "<chromatic>-2</chromatic></transpose></attributes>[D4 1]</measure>",
         "60@0+1"},
        /* score-timewise: parts inside measures */
        {"<score-timewise><measure><part id='P1'>{1}[C4 1]</part><part id='P2'>[C3 1]</part></measure>"
         "<measure><part id='P1'>[D4 1]</part></measure></score-timewise>",
         "60@0+1 62@1+1"},
        /* <sound dalsegno> and its like */
        {"<measure>{1}[C4 1]</measure><measure><sound segno='s'/>[D4 1]<direction><direction-type>"
         "<words>Fine</words></direction-type><sound fine='yes'/></direction></measure>"
         "<measure>[E4 1]<sound dalsegno='s'/></measure>",
         "60@0+1 62@1+1 64@2+1 62@3+1"},
        /* a measure that holds nothing is a bar of rest */
        {"<measure><attributes><divisions>1</divisions><time><beats>3</beats><beat-type>4</beat-type></time>"
         "</attributes></measure><measure>[C4 3]</measure>",
         "60@3+3"},
    };
    for (size_t i = 0; i < sizeof ROWS / sizeof *ROWS; i++)
        expect_notes(ROWS[i].text, ROWS[i].notes);
}
END_TEST

START_TEST(musicxml_head_and_chords)
{
    static const char SCORE[] =
        "<score-partwise version='3.1'><movement-title> Low Tide </movement-title>"
        "<identification><creator type='composer'>N.</creator></identification><part-list/><part id='P1'>"
        "<measure><attributes><divisions>2</divisions><key><fifths>1</fifths><mode>minor</mode></key>"
        "<time><beats>6</beats><beat-type>8</beat-type></time></attributes>"
        "<direction><direction-type><metronome><beat-unit>quarter</beat-unit><beat-unit-dot/>"
        "<per-minute>60</per-minute></metronome></direction-type></direction>"
        "<harmony><root><root-step>E</root-step></root><kind>minor</kind></harmony>"
        "<harmony><root><root-step>F</root-step><root-alter>1</root-alter></root><kind>half-diminished</kind>"
        "<offset>3</offset></harmony>[E4 6]</measure>"
        "<measure><harmony><numeral><numeral-root>5</numeral-root></numeral><kind>dominant</kind></harmony>"
        "[B4 4]<harmony><root><root-step>C</root-step></root><kind>none</kind></harmony>[A4 2]</measure>"
        "</part></score-partwise>";
    struct us_tune_file file = read_score(written_out(SCORE));
    static const struct us_chord_span WANT[] = {
        {0, 1.5, {4, US_CHORD_MIN}}, {1.5, 1.5, {6, US_CHORD_DIM}}, {3, 2, {11, US_CHORD_DOM7}}};
    ck_assert_str_eq(file.tune.title, "Low Tide");
    ck_assert_str_eq(file.tune.composer, "N.");
    ck_assert(file.tune.key.tonic == 4 && file.tune.key.mode == US_MODE_MINOR);
    ck_assert(file.tune.metre.top == 6 && file.tune.metre.bottom == 8);
    ck_assert(file.tune.quarters_a_minute == 90);
    ck_assert_uint_eq(file.tune.chord_count, 3);
    for (size_t i = 0; i < 3; i++)
        ck_assert(file.tune.chords[i].at == WANT[i].at && file.tune.chords[i].len == WANT[i].len &&
                  us_chord_equal(file.tune.chords[i].chord, WANT[i].chord));
    us_tune_file_finish(&file);
}
END_TEST

START_TEST(musicxml_mode_not_given)
{
    static const struct {
        const char *text;
        int tonic, mode;
    } ROWS[] = {
        {"<measure><attributes><divisions>1</divisions><key><fifths>-1</fifths></key></attributes>"
         "[A4 1][D4 1]</measure>",
         2, US_MODE_MINOR},
        {"<measure><attributes><divisions>1</divisions><key><fifths>-1</fifths></key></attributes>"
         "[A4 1][F4 1]</measure>",
         5, US_MODE_MAJOR},
    };
    for (size_t i = 0; i < sizeof ROWS / sizeof *ROWS; i++) {
        struct us_tune_file file = read_score(written_out(ROWS[i].text));
        ck_assert(file.tune.key.tonic == ROWS[i].tonic && file.tune.key.mode == ROWS[i].mode);
        us_tune_file_finish(&file);
    }
}
END_TEST

static void expect_refusal(const void *bytes, size_t size, bool packed, const char *part)
{
    struct us_tune_file file;
    struct us_error error = {0};
    enum us_status status = packed ? us_mxl_read(bytes, size, "t.mxl", &file, &error)
                                   : us_musicxml_read(bytes, size, "t.xml", &file, &error);
    ck_assert_int_eq(status, US_STATUS_BAD_INPUT);
    ck_assert_msg(strstr(error.text, part) != NULL, "wanted \"%s\" in: %s", part, error.text);
    ck_assert_ptr_null(strchr(error.text, '\n'));
    ck_assert_ptr_nonnull(strchr(error.text, ';'));
    ck_assert_ptr_null(file.notes);
}

START_TEST(musicxml_refuses)
{
    static const struct {
        const char *text, *part;
    } ROWS[] = {
        {"", "t.xml:"},
        {"<score-partwise>\n<part>\n<oops</part>", "t.xml:3: "},
        {"<html/>", "t.xml:1: no MusicXML"},
        {"<score-partwise></score-partwise>", "no notes"},
        {"<measure>[C4 1]\n\n[C14 1]</measure>", "t.xml:3: a note beyond"},
        {"<measure>\n[C4 -3]</measure>", "t.xml:2: "},
        {"<measure>{0}[C4 1]</measure>", "divisions"},
        {"<measure>{1}[C4 1e9]</measure>", "length"},
        {"<measure><attributes><time><beats>3</beats><beat-type>5</beat-type></time></attributes>"
         "[C4 1]</measure>",
         "\"3/5\""},
        /* These would be 4, -4 and a note of the keyboard in 32 bits. */
        {"<measure><attributes><time><beats>4294967300</beats><beat-type>4</beat-type></time></attributes>"
         "[C4 1]</measure>",
         "no metre"},
        {"<measure><attributes><divisions>1</divisions><transpose><chromatic>0</chromatic>"
         "<octave-change>357913941</octave-change></transpose></attributes>[C4 1]</measure>",
         "a transposition out of range"},
        {"<measure>[C357913941 1]</measure>", "a note beyond"},
    };
    for (size_t i = 0; i < sizeof ROWS / sizeof *ROWS; i++) {
        const char *text = written_out(ROWS[i].text);
        expect_refusal(text, strlen(text), false, ROWS[i].part);
    }
}
END_TEST

#define ONE_NOTE                                                                                             \
    "<part id='P1'><measure><note><pitch><step>C</step><octave>4</octave></pitch><duration>1</duration>"     \
    "</note></measure></part>"

/* Entities that grow without bounds, and entities that name a file, give neither memory nor its content. */
START_TEST(musicxml_entities)
{
    static const char BOMB[] =
        "<!DOCTYPE s [<!ENTITY a \"aaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaa\"><!ENTITY b "
        "\"&a;&a;&a;&a;&a;&a;&a;&a;&a;&a;\">"
        "<!ENTITY c \"&b;&b;&b;&b;&b;&b;&b;&b;&b;&b;\"><!ENTITY d \"&c;&c;&c;&c;&c;&c;&c;&c;&c;&c;\">"
        "<!ENTITY e \"&d;&d;&d;&d;&d;&d;&d;&d;&d;&d;\"><!ENTITY f \"&e;&e;&e;&e;&e;&e;&e;&e;&e;&e;\">"
        "<!ENTITY g "
        "\"&f;&f;&f;&f;&f;&f;&f;&f;&f;&f;\">]><score-partwise><movement-title>&g;</movement-title>" ONE_NOTE
        "</score-partwise>";
    expect_refusal(BOMB, sizeof BOMB - 1, false, "t.xml:1: ");
    /* Short, and within what the parser allows; written out it would be gigabytes. */
    enum { LONG = 100000, TIMES = 30000, ROOM = LONG + 4 * TIMES + 1000 };
    char *many = malloc(ROOM);
    int at = sprintf(many, "<!DOCTYPE s [<!ENTITY a \"%0*d\">]><score-partwise><movement-title>x", LONG, 0);
    for (int i = 0; i < TIMES; i++)
        at += sprintf(many + at, "&a;");
    at += sprintf(many + at, "</movement-title>" ONE_NOTE "</score-partwise>");
    struct us_tune_file plain = read_score(many);
    ck_assert_str_eq(plain.tune.title, "x");
    us_tune_file_finish(&plain);
    free(many);
    static const char FILE_ENTITY[] =
        "<!DOCTYPE s [<!ENTITY f SYSTEM \"file:///etc/hostname\">]><score-partwise><movement-title>x&f;"
        "</movement-title>" ONE_NOTE "</score-partwise>";
    struct us_tune_file read = read_score(FILE_ENTITY);
    ck_assert_str_eq(read.tune.title, "x");
    us_tune_file_finish(&read);
}
END_TEST

START_TEST(mxl_round_trip)
{
    struct us_tune_file first = read_abc("X:1\nT:t\nM:3/4\nL:1/4\nQ:1/4=90\nK:G\n\"G\"GBd|\"C\"e3|]"), second;
    struct us_error error = {0};
    void *bytes, *again;
    size_t size, again_size;
    ck_assert_int_eq(us_mxl_bytes(&first.tune, &bytes, &size, &error), US_STATUS_OK);
    ck_assert_int_eq(us_mxl_bytes(&first.tune, &again, &again_size, &error), US_STATUS_OK);
    ck_assert(size == again_size && memcmp(bytes, again, size) == 0);
    ck_assert_msg(us_mxl_read(bytes, size, "t.mxl", &second, &error) == US_STATUS_OK, "%s", error.text);
    expect_same_tune(&first.tune, &second.tune, "mxl");
    for (size_t cut = 0; cut < size; cut += 7) /* the directory is at the end */
        expect_refusal(bytes, cut, true, "t.mxl: ");
    free(bytes);
    free(again);
    us_tune_file_finish(&first);
    us_tune_file_finish(&second);
}
END_TEST

/* A zip archive with these two entries, in a temporary file; returns its bytes. */
static void *make_zip(const char *container, const void *score, size_t score_size, size_t *size)
{
    char path[] = "/tmp/check-mxl-XXXXXX";
    int fd = mkstemp(path);
    ck_assert_int_ge(fd, 0);
    FILE *file = fdopen(fd, "rb");
    zip_t *archive = zip_open(path, ZIP_TRUNCATE, NULL);
    ck_assert_ptr_nonnull(archive);
    if (container)
        zip_file_add(archive, "META-INF/container.xml",
                     zip_source_buffer(archive, container, strlen(container), 0), 0);
    zip_file_add(archive, "score.xml", zip_source_buffer(archive, score, score_size, 0), 0);
    ck_assert_int_eq(zip_close(archive), 0);
    fclose(file);
    file = fopen(path, "rb");
    fseek(file, 0, SEEK_END);
    *size = (size_t)ftell(file);
    rewind(file);
    void *bytes = malloc(*size);
    ck_assert_uint_eq(fread(bytes, 1, *size, file), *size);
    fclose(file);
    remove(path);
    return bytes;
}

START_TEST(mxl_refuses)
{
    static const char GOOD[] =
        "<container><rootfiles><rootfile full-path=\"score.xml\"/></rootfiles></container>";
    static const char OUT[] =
        "<container><rootfiles><rootfile full-path=\"../../etc/passwd\"/></rootfiles></container>";
    enum { HUGE_SIZE = 40 << 20, DENSE_SIZE = 12 << 20 }; /* the second packs to a thousandth */
    char *huge = calloc(1, HUGE_SIZE);
    static const struct {
        const char *container, *part;
        size_t huge;
    } ROWS[] = {
        {NULL, "missing", 0},    {"<container/>", "names no score", 0}, {"rubbish", "names no score", 0},
        {OUT, "missing", 0},     {GOOD, "too large", HUGE_SIZE},        {GOOD, "too large", DENSE_SIZE},
        {GOOD, "no MusicXML", 0}};
    for (size_t i = 0; i < sizeof ROWS / sizeof *ROWS; i++) {
        size_t size;
        void *bytes =
            make_zip(ROWS[i].container, ROWS[i].huge ? huge : "<x/>", ROWS[i].huge ? ROWS[i].huge : 4, &size);
        expect_refusal(bytes, size, true, ROWS[i].part);
        free(bytes);
    }
    free(huge);
    expect_refusal("no zip at all", 13, true, "t.mxl: ");
}
END_TEST

int main(void)
{
    const TTest *const TESTS[] = {musicxml_round_trips,
                                  musicxml_round_trips_as_written,
                                  musicxml_elements,
                                  musicxml_head_and_chords,
                                  musicxml_mode_not_given,
                                  musicxml_refuses,
                                  musicxml_entities,
                                  mxl_round_trip,
                                  mxl_refuses};
    return RUN_TESTS("musicxml", TESTS);
}
