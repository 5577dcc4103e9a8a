/* A tune as abc 2.1. */
#include "undersong/abc.h"

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
    bool own_lines; /* the page says where lines end */
};

static void write_text(FILE *to, char field, const char *text)
{
    fprintf(to, "%c:", field);
    for (; *text; text++) {
        if (*text == '%') fputc('\\', to);
        fputc(*text, to);
    }
    fputc('\n', to);
}

static void write_key(FILE *to, struct us_key key)
{
    static const char *const MODES[US_MODES] = {"", "m", "dor", "mix"};
    char letter[4];
    if (key.tonic == US_NO_KEY)
        fprintf(to, "K:none");
    else
        fprintf(to, "K:%s%s", us_key_letter(key, key.tonic, letter, sizeof letter), MODES[key.mode]);
}

static void write_metre(FILE *to, struct us_metre metre)
{
    char name[16];
    fprintf(to, "M:%s", metre.top ? us_metre_name(metre, name, sizeof name) : "none");
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
    write_key(writer->to, page->key);
    fputc('\n', writer->to);
    writer->key = page->key;
    writer->metre = page->metre;
}

/* An accidental stands where the key or the bar so far would say otherwise, and also where an octave apart
   the same letter was altered: programs differ in how far an accidental reaches. */
static void write_pitch(struct writer *writer, const struct us_sign *sign)
{
    static const char *const SIGNS[] = {"__", "_", "=", "^", "^^"};
    int alter, signature;
    char letter = us_spelling_letter(sign->spelling, &alter);
    int octave = us_spelling_octave(sign->spelling, sign->pitch);
    /* How the signature alters this letter: its places on the line of fifths are seven apart. */
    int natural = sign->spelling - 7 * alter, fifths = us_key_signature(writer->key);
    signature = natural + 7 <= fifths + 5 ? 1 : natural > fifths + 5 ? -1 : 0;
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

static void write_length(FILE *to, int64_t face)
{
    int64_t top = face, bottom = UNIT;
    for (int64_t a = top, b = bottom; b;) {
        int64_t rest = a % b;
        a = b, b = rest;
        if (!b) top /= a, bottom /= a;
    }
    if (top != 1) fprintf(to, "%lld", (long long)top);
    if (bottom == 2)
        fputc('/', to);
    else if (bottom > 2)
        fprintf(to, "/%lld", (long long)bottom);
}

static void write_chords(struct writer *writer, int64_t until)
{
    const struct us_written *page = writer->page;
    char symbol[16];
    for (; writer->chord < page->chord_count && page->chords[writer->chord].at < until; writer->chord++) {
        struct us_chord chord = page->chords[writer->chord].chord;
        fprintf(writer->to, "\"%s\"",
                chord.root == US_NO_CHORD ? "N.C."
                                          : us_chord_symbol(chord, writer->key, symbol, sizeof symbol));
    }
}

static void write_tuplet(FILE *to, const struct us_sign *sign)
{
    if (sign->tuplet_p == 3 && sign->tuplet_q == 2 && sign->tuplet_count == 3)
        fputs("(3", to);
    else
        fprintf(to, "(%d:%d:%d", sign->tuplet_p, sign->tuplet_q, sign->tuplet_count);
}

static void write_sign(struct writer *writer, const struct us_sign *sign, bool melody, bool beat)
{
    FILE *to = writer->to;
    if (melody && sign->flags & US_WRITTEN_LINE && !writer->line_empty)
        fputc('\n', to);
    else if (beat && !writer->line_empty)
        fputc(' ', to);
    if (melody) write_chords(writer, sign->at + 1);
    if (sign->flags & US_WRITTEN_SLUR_OPEN) fputc('(', to);
    if (sign->tuplet_count) write_tuplet(to, sign);
    if (sign->pitch == US_REST)
        fputc('z', to);
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
        write_key(writer->to, bar->key);
        fputc(']', writer->to);
        writer->key = bar->key;
    }
    if (bar->metre.top != writer->metre.top || bar->metre.bottom != writer->metre.bottom) {
        fputc('[', writer->to);
        write_metre(writer->to, bar->metre);
        fputc(']', writer->to);
        writer->metre = bar->metre;
    }
}

static void write_endings(FILE *to, uint16_t endings, bool after_bar_line)
{
    const char *between = after_bar_line ? "" : "[";
    for (int n = 1; n <= US_ENDING_MAX; n++)
        if (endings >> n & 1) {
            fprintf(to, "%s%d", between, n);
            between = ",";
        }
}

/* The bar line between `before` and `after`; either may be NULL at the ends of the tune. */
static void write_bar_line(struct writer *writer, const struct us_written_bar *before,
                           const struct us_written_bar *after)
{
    FILE *to = writer->to;
    bool any = before || (after && after->repeat_from);
    for (int i = 1; before && i < before->repeat_times; i++)
        fputc(':', to);
    if (any) fputc('|', to);
    if (before && !after) fputs(before->repeat_times ? "" : before->closes ? "]" : "", to);
    if (before && after && before->closes) fputc('|', to);
    if (after && after->repeat_from) fputc(':', to);
    if (after && after->endings) write_endings(to, after->endings, any && !after->repeat_from);
}

static bool starts_beat(const struct us_written_bar *bar, int64_t at)
{
    int64_t beat = (int64_t)(us_metre_beat_quarters(bar->metre) * US_TICKS);
    return at > bar->at && (at - bar->at) % beat == 0;
}

static bool write_voice(struct writer *writer, int voice)
{
    const struct us_written *page = writer->page;
    struct us_signs signs = {0};
    bool done = true;
    writer->line_empty = true;
    writer->key = page->key;
    writer->metre = page->metre;
    if (page->bar_count) write_bar_line(writer, NULL, &page->bars[0]);
    for (size_t b = 0; b < page->bar_count && done; b++) {
        const struct us_written_bar *bar = &page->bars[b];
        memset(writer->altered, NO_SIGN, sizeof writer->altered);
        write_changes(writer, bar);
        done = us_layout_bar(page, b, voice, voice == 0, &signs);
        for (size_t i = 0; i < signs.count && done; i++)
            write_sign(writer, &signs.list[i], voice == 0, starts_beat(bar, signs.list[i].at));
        bool last = b + 1 == page->bar_count;
        write_bar_line(writer, bar, last ? NULL : bar + 1);
        bool break_line = (voice || !writer->own_lines) && b % 4 == 3 && !last && !(bar + 1)->endings;
        if (break_line) fputc('\n', writer->to);
        writer->line_empty = break_line;
    }
    fputc('\n', writer->to);
    us_signs_finish(&signs);
    return done;
}

enum us_status us_abc_write(const struct us_tune *tune, int number, FILE *to, struct us_error *error)
{
    struct us_written page;
    enum us_status status = us_written_from(tune, &page, error);
    if (status) return status;
    struct writer writer = {.to = to, .page = &page, .own_lines = tune->line_count > 0};
    bool two = page.note_count[1] > 0;
    write_head(&writer, number > 0 ? number : 1);
    if (two) fputs("V:1\n", to);
    bool done = write_voice(&writer, 0);
    if (two) fputs("V:2\n", to);
    if (two) done = done && write_voice(&writer, 1);
    us_written_finish(&page);
    if (!done) return us_error_set(error, US_STATUS_NO_MEMORY, "no memory left to write the tune");
    if (ferror(to))
        return us_error_set(error, US_STATUS_IO, "the abc cannot be written: %s", strerror(errno));
    return US_STATUS_OK;
}
