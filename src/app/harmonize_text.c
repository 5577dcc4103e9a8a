/* The text sheet of `harmonize`: a row for each chord of each bar, aligned, with its reason. */
#include "harmonize_write.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "beat_name.h"
#include "undersong/plain_line.h"

static const double NEAR = 1e-3;
enum { STEPS_SIZE = 128, REASON_LEAST = 40, PLACE_SIZE = 16 };

struct row {
    int bar;     /* as counted by a player: 1 the first full bar, 0 the pickup */
    double beat; /* 1 on the bar line */
    char steps[STEPS_SIZE];
    char numeral[16], symbol[16];
    struct us_reason reason;
    double from, until;
    size_t chord;
    bool first_of_bar, begins; /* begins: the chord starts in this row */
};

struct sheet {
    struct row *rows;
    size_t count;
    int steps_width, chord_width, indent, reason_width;
};

static const char *short_step(const struct harmonized *h, struct us_key key, int pitch, char *out,
                              size_t size)
{
    if (h->explain.names != US_STEPS_NUMBERS) return us_step_name(key, pitch, h->explain.names, out, size);
    struct us_step step = us_key_step(key, pitch);
    snprintf(out, size, "%s%d", step.alter > 0 ? "#" : step.alter < 0 ? "b" : "", step.number);
    return out;
}

/* The steps that begin between `from` and `until`; "(5)" is held over from before, "-" nothing at all. */
static void list_steps(const struct harmonized *h, double from, double until, char *out, size_t size)
{
    size_t used = 0;
    struct us_key key = us_explain_key(&h->explain, from);
    *out = 0;
    const struct us_tune *tune = &h->file.tune;
    for (size_t i = us_tune_note_after(tune, from); i < tune->note_count && tune->notes[i].at < until; i++) {
        const struct us_note *n = &tune->notes[i];
        bool held = n->at < from - NEAR && n->at + n->len > from + NEAR;
        if (!held && (n->at < from - NEAR || n->at > until - NEAR)) continue;
        char name[16];
        short_step(h, key, n->pitch, name, sizeof name);
        if (used < size)
            used +=
                (size_t)snprintf(out + used, size - used, held ? "%s(%s)" : "%s%s", used ? " " : "", name);
    }
    if (!used) snprintf(out, size, "-");
}

static bool add_row(struct sheet *sheet, const struct harmonized *h, size_t chord, double from, double until)
{
    struct row *grown = realloc(sheet->rows, (sheet->count + 1) * sizeof *grown);
    if (!grown) return false;
    sheet->rows = grown;
    struct row *row = &grown[sheet->count++];
    memset(row, 0, sizeof *row);
    const struct us_chord_choice *c = &h->chords[chord];
    struct us_key key = us_explain_key(&h->explain, from);
    double bar = us_metre_bar_quarters(h->request.metre), beat = us_metre_beat_quarters(h->request.metre);
    double in_tune = from - h->request.pickup, line = floor(in_tune / bar + NEAR);
    row->bar = (int)line + 1;
    row->beat = 1 + (row->bar > 0 ? in_tune - line * bar : from) / beat;
    row->chord = chord;
    row->from = from;
    row->until = until;
    row->begins = fabs(from - c->at) < NEAR;
    row->first_of_bar = sheet->count == 1 || grown[sheet->count - 2].bar != row->bar;
    list_steps(h, from, until, row->steps, sizeof row->steps);
    us_chord_numeral(c->choice.chord, key, row->numeral, sizeof row->numeral);
    us_chord_symbol(c->choice.chord, key, row->symbol, sizeof row->symbol);
    us_explain_chord(&h->explain, chord, from, until, &row->reason);
    int steps = (int)strlen(row->steps), name = (int)(strlen(row->numeral) + strlen(row->symbol));
    if (steps > sheet->steps_width) sheet->steps_width = steps;
    if (name > sheet->chord_width) sheet->chord_width = name;
    return true;
}

/* Each chord cut at the bar lines. */
static bool make_rows(struct sheet *sheet, const struct harmonized *h)
{
    double bar = us_metre_bar_quarters(h->request.metre);
    for (size_t i = 0; i < h->count; i++) {
        double from = h->chords[i].at, end = from + h->chords[i].len;
        while (from < end - NEAR) {
            double line = h->request.pickup + (floor((from - h->request.pickup) / bar + NEAR) + 1) * bar;
            double until = line < end ? line : end;
            if (!add_row(sheet, h, i, from, until)) return false;
            from = until;
        }
    }
    return true;
}

/* A reason, broken at spaces, the lines after the first indented. */
static void write_wrapped(const char *text, int indent, int width, FILE *out)
{
    while (strlen(text) > (size_t)width) {
        size_t cut = (size_t)width;
        while (cut > 0 && text[cut] != ' ')
            cut--;
        if (cut == 0) break;
        fprintf(out, "%.*s\n%*s", (int)cut, text, indent, "");
        text += cut + 1;
    }
    fprintf(out, "%s\n", text);
}

static void write_alternatives(const struct harmonized *h, const struct sheet *sheet, const struct row *row,
                               FILE *out)
{
    const struct us_chord_choice *c = &h->chords[row->chord];
    struct us_key key = us_explain_key(&h->explain, c->at);
    static const double WORTH_TELLING = 0.05;
    for (int i = 0; i < c->choice.alternatives && i < h->settings->alternatives; i++) {
        if (c->choice.alternative_probability[i] < WORTH_TELLING) continue;
        struct us_reason reason;
        char numeral[16], symbol[16];
        us_explain_alternative(&h->explain, row->chord, (size_t)i, row->from, row->until, &reason);
        us_chord_numeral(c->choice.alternative[i], key, numeral, sizeof numeral);
        us_chord_symbol(c->choice.alternative[i], key, symbol, sizeof symbol);
        char line[400];
        snprintf(line, sizeof line, "or %s %s (%.0f %%): %s", numeral, symbol,
                 100 * c->choice.alternative_probability[i], reason.text);
        fprintf(out, "%*s", sheet->indent, "");
        write_wrapped(line, sheet->indent + 3, sheet->reason_width, out);
    }
}

/* From the first note on: a rest before it is none of the pickup. */
static void write_pickup(const struct harmonized *h, FILE *out)
{
    const struct us_tune *tune = &h->file.tune;
    double quarters = h->request.pickup - (tune->note_count ? tune->notes[0].at : 0);
    static const struct {
        double quarters;
        const char *name;
    } NAMES[] = {{0.25, "a sixteenth note"}, {0.5, "an eighth note"}, {1, "a quarter note"},
                 {1.5, "a dotted quarter"},  {2, "a half note"},      {3, "three quarter notes"}};
    if (quarters < NEAR) return;
    for (size_t i = 0; i < sizeof NAMES / sizeof *NAMES; i++)
        if (fabs(quarters - NAMES[i].quarters) < NEAR) {
            fprintf(out, ", pickup of %s", NAMES[i].name);
            return;
        }
    fprintf(out, ", pickup of %g quarter notes", quarters);
}

/* How often chords change, where the program found it. */
static void write_rate(const struct harmonized *h, FILE *out)
{
    static const char *const WORDS[] = {[US_CHANGE_BAR] = "by the bar",
                                        [US_CHANGE_HALF] = "by the half bar",
                                        [US_CHANGE_BEAT] = "by the beat"};
    if (h->request.change != US_CHANGE_AUTO || h->explain.view.change == US_CHANGE_AUTO) return;
    bool found = false;
    for (size_t i = 0; i < h->count; i++)
        found |= !h->chords[i].given;
    if (!found || h->request.chords == US_CHORDS_I) return;
    fprintf(out, "As a rule chords change %s here (%.0f %% sure; --change says otherwise).\n",
            WORDS[h->explain.view.change], 100 * h->explain.view.change_probability);
}

static void write_head(const struct harmonized *h, FILE *out)
{
    char key[24], metre[16], symbol[16], numeral[16], name[256];
    const struct us_tune *tune = &h->file.tune;
    struct us_key first = us_explain_key(&h->explain, 0);
    const char *slash = strrchr(h->path, '/');
    us_plain_line(slash ? slash + 1 : h->path, name, sizeof name);
    fprintf(out, "%s\n", *tune->title ? tune->title : name);
    fprintf(out, "%s, %s", us_key_name(first, key, sizeof key),
            us_metre_name(h->request.metre, metre, sizeof metre));
    write_pickup(h, out);
    fputs(".  Left hand:", out);
    for (enum us_role r = US_ROLE_I; r < US_ROLES && first.tonic != US_NO_KEY; r++) {
        struct us_chord chord = us_chord_primary(first, r);
        fprintf(out, "%s %s = %s", r > US_ROLE_I ? "," : "",
                us_chord_numeral(chord, first, numeral, sizeof numeral),
                us_chord_symbol(chord, first, symbol, sizeof symbol));
    }
    fputs(".\n", out);
    write_rate(h, out);
}

static void write_key_change(const struct harmonized *h, const struct row *row, size_t *next, FILE *out)
{
    char name[24];
    while (*next < h->request.key_count && h->keys[*next].at < h->chords[row->chord].at + NEAR) {
        if (h->keys[*next].at > NEAR)
            fprintf(out, "--- now in %s\n", us_key_name(h->keys[*next].key, name, sizeof name));
        (*next)++;
    }
}

enum us_status write_harmony_text(const struct harmonized *h, int width, FILE *out, struct us_error *error)
{
    struct sheet sheet = {.steps_width = 5, .chord_width = 4};
    size_t next_key = 0;
    if (!make_rows(&sheet, h)) {
        free(sheet.rows);
        return us_error_no_memory(error);
    }
    write_head(h, out);
    fprintf(out, "\n bar beat  %-*s  %-*s  why\n", sheet.steps_width, "steps", sheet.chord_width + 1,
            "chord");
    sheet.indent = 1 + 3 + 1 + 4 + 2 + sheet.steps_width + 2 + sheet.chord_width + 1 + 2;
    sheet.reason_width = width - sheet.indent > REASON_LEAST ? width - sheet.indent : REASON_LEAST;
    for (size_t i = 0; i < sheet.count; i++) {
        const struct row *row = &sheet.rows[i];
        char bar[PLACE_SIZE] = "", beat[BEAT_NAME], chord[40];
        write_key_change(h, row, &next_key, out);
        if (row->first_of_bar) snprintf(bar, sizeof bar, "%d", row->bar);
        beat_figure(row->beat, 4, beat);
        snprintf(chord, sizeof chord, "%s %s", row->numeral, row->symbol);
        fprintf(out, " %3s %s  %-*s  %-*s  ", bar, beat, sheet.steps_width, row->steps, sheet.chord_width + 1,
                chord);
        write_wrapped(row->reason.text, sheet.indent, sheet.reason_width, out);
        if (row->begins) write_alternatives(h, &sheet, row, out);
    }
    free(sheet.rows);
    return US_STATUS_OK;
}
