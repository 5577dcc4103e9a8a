/* The music of one voice as LilyPond source. */
#include "lilypond_parts.h"
#include "sheet_stretch.h"
#include "sheet_values.h"
#include "written.h"

#include <ctype.h>

char *lily_pitch(int pitch, int place, char *out, size_t size)
{
    int alter, octave = us_spelling_octave(place, pitch) - 3; /* the one without a mark lies below middle C */
    size_t n = (size_t)snprintf(out, size, "%c", tolower((unsigned char)us_spelling_letter(place, &alter)));
    for (int i = alter; i && n + 3 < size; i += i > 0 ? -1 : 1)
        n += (size_t)snprintf(out + n, size - n, i > 0 ? "is" : "es");
    for (int i = octave; i && n + 2 < size; i += i > 0 ? -1 : 1)
        n += (size_t)snprintf(out + n, size - n, i > 0 ? "'" : ",");
    return out;
}

void lily_key(struct us_key key, FILE *out)
{
    char pitch[16];
    static const char *const MODES[US_MODES] = {"major", "minor", "dorian", "mixolydian"};
    static const int8_t ABOVE_MAJOR[US_MODES] = {0, 3, 2, 1}; /* of the tonic, on the line of fifths */
    if (key.tonic == US_NO_KEY) return;
    lily_pitch(48 + key.tonic, us_key_signature(key) + ABOVE_MAJOR[key.mode], pitch, sizeof pitch);
    for (char *c = pitch; *c; c++)
        if (*c == '\'' || *c == ',') *c = 0;
    fprintf(out, "\\key %s \\%s", pitch, MODES[key.mode]);
}

static int32_t divisor(int32_t a, int32_t b)
{
    return (int32_t)us_common_divisor(a, b);
}

char *lily_value(int32_t ticks, char *out, size_t size)
{
    const char *name = value_name(ticks);
    int32_t common = divisor(ticks, US_SHEET_QUARTER);
    if (name)
        snprintf(out, size, "%s", name);
    else
        snprintf(out, size, "4*%d/%d", ticks / common, US_SHEET_QUARTER / common);
    return out;
}

struct staff {
    const struct us_sheet *sheet;
    struct sheet_staff walk;
    bool leads; /* the melody, which carries what holds for all */
    const struct lily_shape *shape;
    struct us_metre metre;
    struct us_key key;
    size_t full_bars; /* written so far, for breaks */
    uint16_t ending;  /* the bracket that is open */
    FILE *out;
};

static void write_pitches(struct staff *staff, const struct us_sheet_sound *s)
{
    char pitch[16];
    if (s->count > 1) fputc('<', staff->out);
    for (int i = 0; i < s->count; i++)
        fprintf(staff->out, "%s%s", i ? " " : "", lily_pitch(s->pitch[i], s->place[i], pitch, sizeof pitch));
    if (s->count > 1) fputc('>', staff->out);
}

/* What hangs on a note: finger and the start of its phrase on the first piece, its end on the last one. */
static void write_marks(struct staff *staff, const struct us_sheet_sound *s, bool first, bool last)
{
    FILE *out = staff->out;
    if (first && s->finger) fprintf(out, "-%d", s->finger);
    if (last && s->slur_closes) fputc(')', out);
    if (last && s->phrase_closes) fputs("\\)", out);
    if (first && s->slur_opens) fputc('(', out);
    if (first && s->phrase_opens) fputs("\\(", out);
    if (!last) fputc('~', out);
}

/* `from` and lengths as written: inside a triplet group half as long again as they sound. */
static void write_stretch(struct staff *staff, const struct us_sheet_bar *bar, const struct sheet_stretch *s)
{
    char value[24];
    int32_t pieces[VALUES_MAX], len = s->triplet ? s->len * 3 / 2 : s->len;
    if (!s->sound && s->len == bar->len && s->len == sheet_full_bar(bar->metre)) {
        int32_t common = divisor(len, 4 * US_SHEET_QUARTER);
        fprintf(staff->out, " R1*%d/%d", len / common, 4 * US_SHEET_QUARTER / common);
        return;
    }
    size_t count = value_cut(bar->metre, s->triplet ? 0 : s->from, len, !s->sound, pieces);
    for (size_t i = 0; i < count; i++) {
        fputc(' ', staff->out);
        if (s->sound)
            write_pitches(staff, s->sound);
        else
            fputc('r', staff->out);
        fputs(lily_value(pieces[i], value, sizeof value), staff->out);
        if (s->sound) write_marks(staff, s->sound, s->begins && i == 0, s->ends && i + 1 == count);
    }
}

static void write_bar_music(struct staff *staff, const struct us_sheet_bar *bar)
{
    struct sheet_stretch stretches[STRETCHES_MAX];
    size_t count = sheet_stretches(&staff->walk, bar, stretches);
    for (size_t i = 0; i < count; i++) {
        if (stretches[i].opens) fputs(" \\tuplet 3/2 {", staff->out);
        write_stretch(staff, bar, &stretches[i]);
        if (stretches[i].closes) fputs(" }", staff->out);
    }
}

static void write_moment(FILE *out, int32_t ticks)
{
    int32_t common = divisor(ticks, 4 * US_SHEET_QUARTER);
    fprintf(out, "\\set Timing.measureLength = #(ly:make-moment %d/%d)", ticks / common,
            4 * US_SHEET_QUARTER / common);
}

/* Whether a line of the page ends after bar `i`.  Endings but the first do not count, so that the phrases
   after them still begin their lines. */
static bool line_ends(struct staff *staff, size_t i)
{
    const struct us_sheet_bar *bar = &staff->sheet->bars[i];
    size_t system = (size_t)staff->shape->system_bars;
    if (bar->endings) staff->ending = bar->endings;
    bool later = staff->ending && !(staff->ending >> 1 & 1);
    bool over = bar->repeat_times || bar->closes;
    if (over) staff->ending = 0;
    if (!later) staff->full_bars += bar->len == sheet_full_bar(bar->metre);
    if (!system || staff->full_bars % system || bar[1].endings) return false;
    return later ? over : bar->len == sheet_full_bar(bar->metre);
}

static void write_bar(struct staff *staff, size_t i)
{
    const struct us_sheet_bar *bar = &staff->sheet->bars[i];
    int32_t full = sheet_full_bar(bar->metre);
    char value[24];
    bool leads = staff->leads;
    fputs("   ", staff->out);
    if (leads && !us_metre_equal(bar->metre, staff->metre))
        fprintf(staff->out, " \\time %u/%u", bar->metre.top, bar->metre.bottom);
    staff->metre = bar->metre;
    if (!us_key_equal(bar->key, staff->key)) {
        fputc(' ', staff->out);
        lily_key(bar->key, staff->out);
        staff->key = bar->key;
    }
    if (leads && bar->len != full) {
        fputc(' ', staff->out);
        if (i == 0)
            fprintf(staff->out, "\\partial %s", lily_value(bar->len, value, sizeof value));
        else
            write_moment(staff->out, bar->len);
    }
    write_bar_music(staff, bar);
    fputs(" |", staff->out);
    if (leads && bar->len != full && i > 0) {
        fputc(' ', staff->out);
        write_moment(staff->out, full);
    }
    bool last = i + 1 == staff->sheet->bar_count;
    if (leads && !last && !bar->repeat_times && bar->closes && !staff->sheet->bars[i + 1].endings)
        fputs(" \\bar \"||\"", staff->out);
    if (leads && !last && line_ends(staff, i)) fputs(" \\break", staff->out);
    fputc('\n', staff->out);
}

/* Bars from `i` that end with this ending: up to a sign, or before the next bracket. */
static size_t ending_end(const struct us_sheet *sheet, size_t i)
{
    for (; i < sheet->bar_count; i++) {
        if (sheet->bars[i].repeat_times || sheet->bars[i].closes) return i + 1;
        if (i + 1 < sheet->bar_count && (sheet->bars[i + 1].endings || sheet->bars[i + 1].repeat_from))
            return i + 1;
    }
    return i;
}

static size_t write_endings(struct staff *staff, size_t i)
{
    const struct us_sheet *sheet = staff->sheet;
    fputs("  \\alternative {\n", staff->out);
    while (i < sheet->bar_count && sheet->bars[i].endings) {
        fputs("    \\volta ", staff->out);
        us_write_times(sheet->bars[i].endings, staff->out);
        fputs(" {\n", staff->out);
        for (size_t end = ending_end(sheet, i); i < end; i++)
            write_bar(staff, i);
        fputs("    }\n", staff->out);
    }
    fputs("  }\n", staff->out);
    return i;
}

static int times_played(const struct us_sheet *sheet, size_t sign)
{
    int times = sheet->bars[sign].repeat_times;
    for (size_t i = sign; i < sheet->bar_count && i < sign + 64; i++) {
        for (int n = 1; n < 16; n++)
            if (sheet->bars[i].endings >> n & 1 && n > times) times = n;
        if (i > sign && sheet->bars[i].repeat_from) break;
    }
    return times > 1 ? times : 2;
}

/* Plain bars up to the next repeated part, then that part.  Returns the bar that follows. */
static size_t write_part(struct staff *staff, size_t i)
{
    const struct us_sheet *sheet = staff->sheet;
    size_t sign = i, from = i;
    while (sign < sheet->bar_count && !sheet->bars[sign].repeat_times && !sheet->bars[sign].endings)
        sign++;
    if (sign == sheet->bar_count) from = sign;
    for (size_t b = i; b <= sign && b < sheet->bar_count && from != sheet->bar_count; b++)
        if (sheet->bars[b].repeat_from) from = b;
    for (; i < from; i++)
        write_bar(staff, i);
    if (i == sheet->bar_count) return i;
    fprintf(staff->out, "  \\repeat volta %d {\n", times_played(sheet, sign));
    size_t body_end = sheet->bars[sign].endings ? sign : sign + 1;
    for (; i < body_end; i++)
        write_bar(staff, i);
    fputs("  }\n", staff->out);
    return sheet->bars[sign].endings ? write_endings(staff, i) : i;
}

void lily_staff(const struct us_sheet *sheet, enum lily_voice voice, const struct lily_shape *shape,
                FILE *out)
{
    const struct sheet_staff walks[] = {
        [LILY_MELODY] = {.sounds = sheet->melody, .count = sheet->melody_count},
        [LILY_SECOND] = {.sounds = sheet->second, .count = sheet->second_count},
        [LILY_LEFT] = {.sounds = sheet->left, .count = sheet->left_count},
    };
    struct staff staff = {.sheet = sheet,
                          .key = sheet->key,
                          .walk = walks[voice],
                          .leads = voice == LILY_MELODY,
                          .shape = shape,
                          .out = out};
    for (size_t i = 0; i < sheet->bar_count;)
        i = write_part(&staff, i);
    const struct us_sheet_bar *last = &sheet->bars[sheet->bar_count - 1];
    if (staff.leads && !last->repeat_times) fputs("    \\bar \"|.\"\n", out);
}
