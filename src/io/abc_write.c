/* A tune as abc 2.1. */
#include "undersong/abc.h"

#include "abc_left.h"
#include "abc_reader.h"
#include "layout.h"

#include <ctype.h>
#include <errno.h>
#include <string.h>

enum { UNIT = US_TICKS / 2, NO_SIGN = 99 };

struct writer {
    FILE *to;
    const struct us_written *page;
    struct us_key key;
    struct us_metre metre;
    int8_t altered[7]; /* accidentals of the letters A to G since the bar line, or NO_SIGN */
    size_t chord;      /* the next one to write */
    bool line_empty;
    uint16_t on_line; /* signs since the last line break in the text */
    bool own_lines;   /* the page says where lines end */
    struct abc_left left;
    struct us_written left_page; /* the page with the left hand as its second voice */
    int voices, left_voice;      /* how many; which one is the left hand, or -1 */
};

static void write_text(FILE *to, char field, const char *text)
{
    fprintf(to, "%c:", field);
    abc_write_text(to, text);
    fputc('\n', to);
}

static void write_key(const struct writer *writer, struct us_key key)
{
    FILE *to = writer->to;
    static const char *const MODES[US_MODES] = {"", "m", "dor", "mix"};
    char letter[4];
    if (key.tonic == US_NO_KEY)
        fprintf(to, "K:none");
    else
        fprintf(to, "K:%s%s", us_page_letter(writer->page, key, key.tonic, letter, sizeof letter),
                MODES[key.mode]);
}

static void write_metre(FILE *to, struct us_metre metre)
{
    char name[16];
    fprintf(to, "M:%s", metre.top ? us_metre_name(metre, name, sizeof name) : "none");
}

static void write_voice(const struct writer *writer, int voice)
{
    fprintf(writer->to, "V:%d%s\n", voice + 1, voice == writer->left_voice ? " clef=bass" : "");
}

static void write_head(struct writer *writer, int number)
{
    const struct us_written *page = writer->page;
    fprintf(writer->to, "X:%d\n", number);
    write_text(writer->to, 'T', page->title);
    if (*page->composer) write_text(writer->to, 'C', page->composer);
    write_metre(writer->to, page->metre);
    fprintf(writer->to, "\nL:1/8\n");
    double beat = us_metre_beat_quarters(page->metre), rate = page->quarters_a_minute;
    if (rate > 0)
        fprintf(writer->to, "Q:%s=%.10g\n", beat == 1.5 ? "3/8" : "1/4", beat == 1.5 ? rate / beat : rate);
    if (writer->left_voice >= 0)
        fputs(writer->left_voice == 2 ? "%%score {(1 2) | 3}\n" : "%%score {1 | 2}\n", writer->to);
    for (int voice = 0; voice < writer->voices && writer->left_voice >= 0; voice++)
        write_voice(writer, voice);
    write_key(writer, page->key);
    fputc('\n', writer->to);
    writer->key = page->key;
    writer->metre = page->metre;
}

/* An accidental stands where the key or the bar so far would say otherwise, and also where an octave apart
   the same letter was altered: programs differ in how far an accidental reaches. */
static void write_pitch(struct writer *writer, const struct us_sign *sign)
{
    static const char *const SIGNS[] = {"__", "_", "=", "^", "^^"};
    int alter, signature = us_signature_alter(us_page_fifths(writer->page, writer->key), sign->spelling);
    char letter = us_spelling_letter(sign->spelling, &alter);
    int octave = us_spelling_octave(sign->spelling, sign->pitch);
    int8_t *altered = &writer->altered[letter - 'A'];
    if (alter != signature || *altered != NO_SIGN) {
        fputs(SIGNS[alter + 2], writer->to);
        *altered = (int8_t)alter;
    }
    fputc(octave >= 5 ? tolower((unsigned char)letter) : letter, writer->to);
    for (int o = octave; o > 5; o--)
        fputc('\'', writer->to);
    for (int o = octave; o < 4; o++)
        fputc(',', writer->to);
}

/* The notes that go down together with the sign's, the lowest. */
static void write_grip(struct writer *writer, const struct us_sign *sign)
{
    const struct us_sheet_sound *grip = abc_left_grip(&writer->left, sign->at);
    struct us_sign note = *sign;
    if (!grip || grip->count < 2) {
        write_pitch(writer, sign);
        return;
    }
    fputc('[', writer->to);
    for (int i = 0; i < grip->count; i++) {
        note.pitch = grip->pitch[i];
        note.spelling = grip->place[i];
        write_pitch(writer, &note);
    }
    fputc(']', writer->to);
}

static void write_length(FILE *to, int64_t face)
{
    int64_t common = us_common_divisor(face, UNIT), top = face / common, bottom = UNIT / common;
    if (top != 1) fprintf(to, "%lld", (long long)top);
    if (bottom == 2)
        fputc('/', to);
    else if (bottom > 2)
        fprintf(to, "/%lld", (long long)bottom);
}

static void write_chords(struct writer *writer, int64_t until)
{
    static const char *const TAILS[US_CHORD_KINDS] = {"", "m", "dim", "7", "m7"};
    const struct us_written *page = writer->page;
    char letter[4];
    for (; writer->chord < page->chord_count && page->chords[writer->chord].at < until; writer->chord++) {
        struct us_chord chord = page->chords[writer->chord].chord;
        if (chord.root == US_NO_CHORD)
            fputs("\"^N.C.\"", writer->to); /* an annotation: a chord symbol starts with a letter A to G */
        else
            fprintf(writer->to, "\"%s%s\"",
                    us_page_letter(page, writer->key, chord.root, letter, sizeof letter), TAILS[chord.kind]);
    }
}

static void write_tuplet(FILE *to, const struct us_sign *sign)
{
    if (sign->tuplet_p == 3 && sign->tuplet_q == 2 && sign->tuplet_count == 3)
        fputs("(3", to);
    else
        fprintf(to, "(%d:%d:%d", sign->tuplet_p, sign->tuplet_q, sign->tuplet_count);
}

/* Readers may bound a line of text; no sign takes more than 30 bytes. */
enum { SIGNS_A_LINE = 100 };

static void write_sign(struct writer *writer, const struct us_sign *sign, int voice, bool beat)
{
    FILE *to = writer->to;
    if (++writer->on_line > SIGNS_A_LINE) {
        fputs("\\\n", to); /* the text goes on in the next line, the music in the same */
        writer->on_line = 1;
    } else if (beat && !writer->line_empty) {
        fputc(' ', to);
    }
    if (voice == 0) write_chords(writer, sign->at + 1);
    if (sign->flags & US_WRITTEN_SLUR_OPEN) fputc('(', to);
    if (sign->tuplet_count) write_tuplet(to, sign);
    if (sign->pitch == US_REST)
        fputc('z', to);
    else if (voice == writer->left_voice)
        write_grip(writer, sign);
    else
        write_pitch(writer, sign);
    write_length(to, sign->face);
    if (sign->flags & US_WRITTEN_TIE) fputc('-', to);
    if (sign->flags & US_WRITTEN_SLUR_CLOSE) fputc(')', to);
    writer->line_empty = false;
}

/* Key and metre where they change. */
static void write_changes(struct writer *writer, const struct us_written_bar *bar)
{
    if (!us_key_equal(bar->key, writer->key)) {
        fputc('[', writer->to);
        write_key(writer, bar->key);
        fputc(']', writer->to);
        writer->key = bar->key;
    }
    if (!us_metre_equal(bar->metre, writer->metre)) {
        fputc('[', writer->to);
        write_metre(writer->to, bar->metre);
        fputc(']', writer->to);
        writer->metre = bar->metre;
    }
}

/* The bar line between `before` and `after`; either may be NULL at the ends of the tune. */
static void write_bar_line(struct writer *writer, const struct us_written_bar *before,
                           const struct us_written_bar *after)
{
    FILE *to = writer->to;
    bool from = after && after->repeat_from, until = before && before->repeat_times;
    for (int i = 1; until && i < before->repeat_times; i++)
        fputc(':', to);
    if (from && until && before->repeat_times == 2)
        fputc(':', to); /* `::` is what every program knows */
    else if (from)
        fputs(until ? "||:" : "|:", to);
    else if (before)
        fputs(!before->closes ? "|" : after ? "||" : until ? "|" : "|]", to);
    if (!after || !after->endings) return;
    if (!before || from) fputc('[', to);
    us_write_times(after->endings, to);
}

static bool starts_beat(const struct us_written_bar *bar, int64_t at)
{
    int64_t beat = (int64_t)(us_metre_beat_quarters(bar->metre) * US_TICKS);
    return at > bar->at && (at - bar->at) % beat == 0;
}

/* Where a line of a tune in two voices ends: both break at the same bar. */
static bool system_ends(const struct writer *writer, size_t bar)
{
    const struct us_written *page = writer->page;
    if (bar + 1 >= page->bar_count || page->bars[bar + 1].endings) return false;
    if (!writer->own_lines) return bar % 4 == 3;
    int64_t from = page->bars[bar + 1].at, until = from + page->bars[bar + 1].len;
    size_t count = page->note_count[0], item = sizeof *page->notes[0];
    for (size_t i = us_first_from(page->notes[0], count, item, from); i < count; i++) {
        if (page->notes[0][i].at >= until) return false;
        if (page->notes[0][i].flags & US_WRITTEN_LINE) return true;
    }
    return false;
}

static bool write_bar(struct writer *writer, size_t b, int voice, struct us_signs *signs)
{
    const struct us_written_bar *bar = &writer->page->bars[b];
    memset(writer->altered, NO_SIGN, sizeof writer->altered);
    write_changes(writer, bar);
    bool left = voice == writer->left_voice;
    if (!us_layout_bar(left ? &writer->left_page : writer->page, b, left ? 1 : voice, voice == 0, signs))
        return false;
    for (size_t i = 0; i < signs->count; i++)
        write_sign(writer, &signs->list[i], voice, starts_beat(bar, signs->list[i].at));
    write_bar_line(writer, bar, b + 1 == writer->page->bar_count ? NULL : bar + 1);
    writer->line_empty = false;
    return true;
}

/* One line of a voice, from bar `from`; `*until` is the bar behind its end. */
static bool write_line(struct writer *writer, size_t from, size_t *until, int voice)
{
    const struct us_written *page = writer->page;
    struct us_signs signs = {0};
    bool done = true, ended = false;
    size_t b = from;
    writer->line_empty = true;
    writer->on_line = 0;
    if (from == 0 && page->bar_count) write_bar_line(writer, NULL, &page->bars[0]);
    for (; b < page->bar_count && done && !ended; b++) {
        done = write_bar(writer, b, voice, &signs);
        ended = system_ends(writer, b);
    }
    fputc('\n', writer->to);
    us_signs_finish(&signs);
    *until = b;
    return done;
}

/* Line by line, the other voices under the first. */
static bool write_body(struct writer *writer)
{
    const struct us_written *page = writer->page;
    size_t b = 0, until = 0;
    do {
        struct us_key key = writer->key;
        struct us_metre metre = writer->metre;
        for (int voice = 0; voice < writer->voices; voice++) {
            if (writer->voices > 1) write_voice(writer, voice);
            writer->key = key;
            writer->metre = metre;
            if (!write_line(writer, b, &until, voice)) return false;
        }
        b = until;
    } while (b < page->bar_count);
    return true;
}

static void add_left(struct writer *writer)
{
    writer->left_voice = -1;
    if (!writer->left.count) return;
    writer->left_voice = writer->voices++;
    writer->left_page = *writer->page;
    writer->left_page.notes[1] = writer->left.notes;
    writer->left_page.note_count[1] = writer->left.count;
}

enum us_status abc_write_with_left(const struct us_tune *tune, const struct us_sheet *sheet, int number,
                                   FILE *to, struct us_error *error)
{
    struct us_written page;
    enum us_status status = us_written_from(tune, &page, error);
    if (status) return status;
    struct writer writer = {
        .to = to, .page = &page, .own_lines = tune->line_count > 0, .voices = page.note_count[1] ? 2 : 1};
    bool done = abc_left_make(&writer.left, &page, tune, sheet);
    if (done) {
        add_left(&writer);
        write_head(&writer, number > 0 ? number : 1);
        done = write_body(&writer);
    }
    abc_left_finish(&writer.left);
    us_written_finish(&page);
    if (!done) return us_error_set(error, US_STATUS_NO_MEMORY, "no memory left to write the tune");
    if (ferror(to))
        return us_error_set(error, US_STATUS_IO, "the abc cannot be written: %s", strerror(errno));
    return US_STATUS_OK;
}

enum us_status us_abc_write(const struct us_tune *tune, int number, FILE *to, struct us_error *error)
{
    return abc_write_with_left(tune, NULL, number, to, error);
}
