/* A tune as MusicXML 4.0 (W3C reference; element order as its schema has it). */
#include "undersong/musicxml.h"

#include "layout.h"
#include "musicxml_text.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

enum { NO_SIGN = 99 };

struct writer {
    FILE *to;
    const struct us_written *page;
    int64_t division; /* ticks of one division */
    struct us_key key;
    struct us_metre metre;
    int8_t altered[7][12]; /* accidentals by letter and octave since the bar line, or NO_SIGN */
    size_t chord;          /* the next one to write */
};

/* The largest division in which every time of the page is a whole number. */
static int64_t find_division(const struct us_written *page)
{
    int64_t division = US_TICKS;
    for (int v = 0; v < US_WRITTEN_VOICES; v++)
        for (size_t i = 0; i < page->note_count[v]; i++) {
            division = us_common_divisor(division, page->notes[v][i].at);
            division = us_common_divisor(division, page->notes[v][i].len);
        }
    for (size_t i = 0; i < page->bar_count; i++)
        division = us_common_divisor(division, page->bars[i].len);
    for (size_t i = 0; i < page->chord_count; i++)
        division = us_common_divisor(division, page->chords[i].at);
    return division;
}

/* Signs cut inside tuplets can be finer than the page's own times. */
static int64_t finer_division(const struct us_written *page, int64_t division, struct us_signs *signs)
{
    for (int v = 0; v < US_WRITTEN_VOICES; v++)
        for (size_t b = 0; b < page->bar_count; b++) {
            if (!us_layout_bar(page, b, v, false, signs)) return 0;
            for (size_t i = 0; i < signs->count; i++)
                division = us_common_divisor(division, signs->list[i].len);
        }
    return division;
}

static void write_key(struct writer *writer, struct us_key key)
{
    static const char *const MODES[US_MODES] = {"major", "minor", "dorian", "mixolydian"};
    fprintf(writer->to, "<key><fifths>%d</fifths><mode>%s</mode></key>\n", us_page_fifths(writer->page, key),
            key.tonic == US_NO_KEY ? "none" : MODES[key.mode]);
}

static void write_metre(struct writer *writer, struct us_metre metre)
{
    if (!metre.top)
        fputs("<time><senza-misura/></time>\n", writer->to);
    else
        fprintf(writer->to, "<time><beats>%u</beats><beat-type>%u</beat-type></time>\n", metre.top,
                metre.bottom);
}

static void write_attributes(struct writer *writer, size_t b)
{
    const struct us_written_bar *bar = &writer->page->bars[b];
    bool key = b == 0 || !us_key_equal(bar->key, writer->key);
    bool metre = b == 0 || !us_metre_equal(bar->metre, writer->metre);
    if (!key && !metre) return;
    fputs("<attributes>\n", writer->to);
    if (b == 0)
        fprintf(writer->to, "<divisions>%lld</divisions>\n", (long long)(US_TICKS / writer->division));
    if (key) write_key(writer, bar->key);
    if (metre) write_metre(writer, bar->metre);
    if (b == 0) fputs("<clef><sign>G</sign><line>2</line></clef>\n", writer->to);
    fputs("</attributes>\n", writer->to);
    writer->key = bar->key;
    writer->metre = bar->metre;
}

static void write_tempo(struct writer *writer)
{
    double rate = writer->page->quarters_a_minute, beat = us_metre_beat_quarters(writer->page->metre);
    if (rate <= 0) return;
    bool dotted = beat == 1.5;
    fprintf(
        writer->to,
        "<direction placement=\"above\"><direction-type><metronome><beat-unit>quarter</beat-unit>%s"
        "<per-minute>%.10g</per-minute></metronome></direction-type><sound tempo=\"%.10g\"/></direction>\n",
        dotted ? "<beat-unit-dot/>" : "", dotted ? rate / beat : rate, rate);
}

static void write_endings(FILE *to, uint16_t endings, const char *type)
{
    fputs("<ending number=\"", to);
    us_write_times(endings, to);
    fprintf(to, "\" type=\"%s\"/>", type);
}

static void write_left_bar_line(struct writer *writer, const struct us_written_bar *bar)
{
    if (!bar->repeat_from && !bar->endings) return;
    fputs("<barline location=\"left\">", writer->to);
    if (bar->repeat_from) fputs("<bar-style>heavy-light</bar-style>", writer->to);
    if (bar->endings) write_endings(writer->to, bar->endings, "start");
    if (bar->repeat_from) fputs("<repeat direction=\"forward\"/>", writer->to);
    fputs("</barline>\n", writer->to);
}

/* The bracket of the ending that bar `b` is in ends with it. */
static bool ending_stops(const struct us_written *page, size_t b)
{
    const struct us_written_bar *bar = &page->bars[b], *next = b + 1 < page->bar_count ? bar + 1 : NULL;
    return bar->repeat_times || bar->closes || !next || next->endings || next->repeat_from;
}

static uint16_t open_ending(const struct us_written *page, size_t b)
{
    for (size_t i = b + 1; i-- > 0;) {
        if (page->bars[i].endings) return page->bars[i].endings;
        if (i && ending_stops(page, i - 1)) return 0;
    }
    return 0;
}

static void write_right_bar_line(struct writer *writer, size_t b)
{
    const struct us_written *page = writer->page;
    const struct us_written_bar *bar = &page->bars[b];
    bool last = b + 1 == page->bar_count;
    uint16_t endings = ending_stops(page, b) ? open_ending(page, b) : 0;
    const char *style = bar->repeat_times || last ? "light-heavy" : bar->closes ? "light-light" : NULL;
    if (!style && !endings) return;
    fputs("<barline location=\"right\">", writer->to);
    if (style) fprintf(writer->to, "<bar-style>%s</bar-style>", style);
    if (endings) write_endings(writer->to, endings, bar->repeat_times ? "stop" : "discontinue");
    if (bar->repeat_times > 2)
        fprintf(writer->to, "<repeat direction=\"backward\" times=\"%u\"/>", bar->repeat_times);
    else if (bar->repeat_times)
        fputs("<repeat direction=\"backward\"/>", writer->to);
    fputs("</barline>\n", writer->to);
}

static void write_chord(struct writer *writer, const struct us_written_chord *chord, int64_t offset)
{
    static const char *const KINDS[US_CHORD_KINDS] = {"major", "minor", "diminished", "dominant",
                                                      "minor-seventh"};
    static const char *const TEXTS[US_CHORD_KINDS] = {"", "m", "dim", "7", "m7"};
    char name[4] = "C";
    bool none = chord->chord.root == US_NO_CHORD;
    if (!none) us_page_letter(writer->page, writer->key, chord->chord.root, name, sizeof name);
    int alter = 0;
    for (const char *c = name + 1; *c; c++)
        alter += *c == '#' ? 1 : -1;
    fprintf(writer->to, "<harmony><root><root-step%s>%c</root-step>", none ? " text=\"\"" : "", *name);
    if (alter) fprintf(writer->to, "<root-alter>%d</root-alter>", alter);
    fprintf(writer->to, "</root><kind text=\"%s\">%s</kind>", none ? "N.C." : TEXTS[chord->chord.kind],
            none ? "none" : KINDS[chord->chord.kind]);
    if (offset) fprintf(writer->to, "<offset>%lld</offset>", (long long)(offset / writer->division));
    fputs("</harmony>\n", writer->to);
}

/* Chords that start under this sign stand before it, with an offset where they start later. */
static void write_chords(struct writer *writer, const struct us_sign *sign)
{
    const struct us_written *page = writer->page;
    for (; writer->chord < page->chord_count && page->chords[writer->chord].at < sign->at + sign->len;
         writer->chord++)
        write_chord(writer, &page->chords[writer->chord], page->chords[writer->chord].at - sign->at);
}

static const char *type_name(double quarters)
{
    static const char *const NAMES[] = {"256th",  "128th",   "64th", "32nd",  "16th",
                                        "eighth", "quarter", "half", "whole", "breve"};
    int i = 0;
    for (double value = 1.0 / 64; value < quarters && i < 9; value *= 2)
        i++;
    return NAMES[i];
}

static void write_accidental(struct writer *writer, const struct us_sign *sign, char letter, int alter,
                             int octave)
{
    static const char *const NAMES[] = {"flat-flat", "flat", "natural", "sharp", "double-sharp"};
    int signature = us_signature_alter(us_page_fifths(writer->page, writer->key), sign->spelling);
    if (octave < 0 || octave > 11) return;
    int8_t *state = &writer->altered[letter - 'A'][octave];
    int now = *state == NO_SIGN ? signature : *state;
    if (alter == now || sign->tied_from) return;
    *state = (int8_t)alter;
    fprintf(writer->to, "<accidental>%s</accidental>", NAMES[alter + 2]);
}

static void write_notations(FILE *to, const struct us_sign *sign)
{
    bool note = sign->pitch != US_REST, tie = note && sign->flags & US_WRITTEN_TIE,
         tied = note && sign->tied_from;
    bool slurs = sign->flags & (US_WRITTEN_SLUR_OPEN | US_WRITTEN_SLUR_CLOSE);
    if (!tie && !tied && !slurs && !sign->tuplet_count && !sign->tuplet_last) return;
    fputs("<notations>", to);
    if (tied) fputs("<tied type=\"stop\"/>", to);
    if (tie) fputs("<tied type=\"start\"/>", to);
    if (sign->flags & US_WRITTEN_SLUR_CLOSE) fputs("<slur type=\"stop\" number=\"1\"/>", to);
    if (sign->flags & US_WRITTEN_SLUR_OPEN) fputs("<slur type=\"start\" number=\"1\"/>", to);
    if (sign->tuplet_count) fputs("<tuplet type=\"start\"/>", to);
    if (sign->tuplet_last) fputs("<tuplet type=\"stop\"/>", to);
    fputs("</notations>", to);
}

static void write_note(struct writer *writer, const struct us_sign *sign)
{
    FILE *to = writer->to;
    int alter = 0, octave = 0, dots = 0;
    char letter = 'C';
    double quarters = 1;
    fputs("<note>", to);
    if (sign->pitch == US_REST) {
        fputs("<rest/>", to);
    } else {
        letter = us_spelling_letter(sign->spelling, &alter);
        octave = us_spelling_octave(sign->spelling, sign->pitch);
        fprintf(to, "<pitch><step>%c</step>", letter);
        if (alter) fprintf(to, "<alter>%d</alter>", alter);
        fprintf(to, "<octave>%d</octave></pitch>", octave);
    }
    fprintf(to, "<duration>%lld</duration>", (long long)(sign->len / writer->division));
    if (sign->pitch != US_REST && sign->tied_from) fputs("<tie type=\"stop\"/>", to);
    if (sign->pitch != US_REST && sign->flags & US_WRITTEN_TIE) fputs("<tie type=\"start\"/>", to);
    fputs("<voice>1</voice>", to);
    if (us_face_head(sign->face, &quarters, &dots)) fprintf(to, "<type>%s</type>", type_name(quarters));
    for (int i = 0; i < dots; i++)
        fputs("<dot/>", to);
    if (sign->pitch != US_REST) write_accidental(writer, sign, letter, alter, octave);
    if (sign->tuplet_p)
        fprintf(to,
                "<time-modification><actual-notes>%u</actual-notes><normal-notes>%u</normal-notes>"
                "</time-modification>",
                sign->tuplet_p, sign->tuplet_q);
    write_notations(to, sign);
    fputs("</note>\n", to);
}

static bool is_full(const struct us_written_bar *bar)
{
    return !bar->metre.top || bar->len == us_written_ticks(us_metre_bar_quarters(bar->metre));
}

static bool write_measure(struct writer *writer, size_t b, int voice, int *number, struct us_signs *signs)
{
    const struct us_written *page = writer->page;
    const struct us_written_bar *bar = &page->bars[b];
    if (!us_layout_bar(page, b, voice, false, signs)) return false;
    /* A pickup has number 0; a bar that a repeat sign cuts short has no number of its own. */
    if (is_full(bar))
        fprintf(writer->to, "<measure number=\"%d\">\n", ++*number);
    else if (b == 0)
        fputs("<measure number=\"0\" implicit=\"yes\">\n", writer->to);
    else
        fprintf(writer->to, "<measure number=\"X%zu\" implicit=\"yes\">\n", b);
    bool line = false;
    for (size_t i = 0; i < signs->count && !line; i++)
        line = b && signs->list[i].flags & US_WRITTEN_LINE;
    if (line && voice == 0) fputs("<print new-system=\"yes\"/>\n", writer->to);
    write_attributes(writer, b);
    write_left_bar_line(writer, bar);
    if (b == 0 && voice == 0) write_tempo(writer);
    memset(writer->altered, NO_SIGN, sizeof writer->altered);
    for (size_t i = 0; i < signs->count; i++) {
        if (voice == 0) write_chords(writer, &signs->list[i]);
        write_note(writer, &signs->list[i]);
    }
    write_right_bar_line(writer, b);
    fputs("</measure>\n", writer->to);
    return true;
}

static bool write_part(struct writer *writer, int voice, struct us_signs *signs)
{
    int number = 0;
    fprintf(writer->to, "<part id=\"P%d\">\n", voice + 1);
    for (size_t b = 0; b < writer->page->bar_count; b++)
        if (!write_measure(writer, b, voice, &number, signs)) return false;
    fputs("</part>\n", writer->to);
    return true;
}

static void write_head(struct writer *writer, bool two)
{
    FILE *to = writer->to;
    musicxml_begin(to);
    fputs("<work><work-title>", to);
    musicxml_text(writer->page->title, to);
    fputs("</work-title></work>\n<identification>", to);
    if (*writer->page->composer) {
        fputs("<creator type=\"composer\">", to);
        musicxml_text(writer->page->composer, to);
        fputs("</creator>", to);
    }
    fputs("<encoding><software>undersong</software></encoding></identification>\n<part-list>\n"
          "<score-part id=\"P1\"><part-name>Melody</part-name></score-part>\n",
          to);
    if (two) fputs("<score-part id=\"P2\"><part-name>Second voice</part-name></score-part>\n", to);
    fputs("</part-list>\n", to);
}

enum us_status us_musicxml_write(const struct us_tune *tune, FILE *to, struct us_error *error)
{
    struct us_written page;
    enum us_status status = us_written_from(tune, &page, error);
    if (status) return status;
    struct us_signs signs = {0};
    struct writer writer = {.to = to, .page = &page};
    bool two = page.note_count[1] > 0;
    writer.division = finer_division(&page, find_division(&page), &signs);
    bool done = writer.division > 0;
    if (done) write_head(&writer, two);
    for (int voice = 0; voice <= two && done; voice++)
        done = write_part(&writer, voice, &signs);
    if (done) fputs("</score-partwise>\n", to);
    us_signs_finish(&signs);
    us_written_finish(&page);
    if (!done) return us_error_set(error, US_STATUS_NO_MEMORY, "no memory left to write the tune");
    if (ferror(to))
        return us_error_set(error, US_STATUS_IO, "the score cannot be written: %s", strerror(errno));
    return US_STATUS_OK;
}
