/* A lesson sheet as plain text: a column a beat, a row each for steps, fingers, chords. */
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "sheet_parts.h"

enum row { ROW_BAR, ROW_STEPS, ROW_SECOND, ROW_FINGERS, ROW_CHORDS, ROW_LETTERS, ROW_OTHERS, ROWS };
static const char *const LABELS[ROWS] = {"bar", "steps", "second", "fingers", "chords", "letters", "or"};
enum { LABEL_WIDTH = 8, CELL = 64, BEATS_MAX = 32, LINE_MAX_WIDTH = 400 };

/* One beat, as every row shows it. */
struct cell {
    char text[ROWS][CELL];
};
struct bar_cells {
    struct cell beat[BEATS_MAX];
    int beats, home;
};

/* Puts `word` behind what is there; several in one beat are joined by a dot. */
static void join(char *cell, const char *word)
{
    size_t used = strlen(cell);
    snprintf(cell + used, CELL - used, "%s%s", used ? "." : "", word);
}

/* The octave around the tune's mean starts at this keynote. */
static int find_home(const struct us_sheet *sheet)
{
    int sum = 0;
    for (size_t i = 0; i < sheet->melody_count; i++)
        sum += sheet->melody[i].pitch[0];
    int mean = sheet->melody_count ? sum / (int)sheet->melody_count : 60;
    return mean - us_pitch_class(mean - sheet->key.tonic);
}

/* Marks say how many octaves a note lies above the octave that starts at `home`. */
static void step_word(const struct us_sheet *sheet, const struct us_sheet_sound *sound, int home, char *out,
                      size_t size)
{
    int pitch = sound->pitch[0];
    if (sheet->settings.under == US_SHEET_UNDER_NOTHING) {
        us_pitch_name(pitch, us_key_flats(sound->key), out, size);
        return;
    }
    us_sheet_word(sheet, sound, out, size);
    size_t n = strlen(out);
    for (int i = (int)floor((pitch - home) / 12.0); i && n + 2 < size; i += i > 0 ? -1 : 1)
        n += (size_t)snprintf(out + n, size - n, i > 0 ? "'" : ",");
}

static void fill_voice(const struct us_sheet *sheet, const struct us_sheet_bar *bar, int32_t beat,
                       enum row row, struct bar_cells *cells)
{
    char word[24];
    bool melody = row == ROW_STEPS;
    const struct us_sheet_sound *sounds = melody ? sheet->melody : sheet->second;
    size_t count = melody ? sheet->melody_count : sheet->second_count;
    size_t first = sounds_from(sounds, count, bar->at), end = sounds_from(sounds, count, bar->at + bar->len);
    if (first) first--; /* it may still sound */
    for (size_t i = first; i < end; i++) {
        const struct us_sheet_sound *s = &sounds[i];
        int32_t from = s->at - bar->at, until = from + s->len;
        for (int b = 0; b < cells->beats; b++) {
            int32_t start = b * beat;
            bool begins = from >= start && from < start + beat && from < bar->len;
            if (!begins && !(from < start && until > start)) continue;
            step_word(sheet, s, cells->home, word, sizeof word);
            join(cells->beat[b].text[row], begins ? word : "-");
            snprintf(word, sizeof word, "%d", s->finger);
            if (melody && sheet->settings.fingering)
                join(cells->beat[b].text[ROW_FINGERS], begins ? word : "-");
        }
    }
    for (int b = 0; b < cells->beats && count; b++)
        if (!*cells->beat[b].text[row]) memcpy(cells->beat[b].text[row], "0", 2);
}

static void fill_chords(const struct us_sheet *sheet, const struct us_sheet_bar *bar, int32_t beat,
                        struct bar_cells *cells)
{
    char word[24];
    size_t end = chords_from(sheet, bar->at + bar->len);
    for (size_t i = chords_from(sheet, bar->at); i < end; i++) {
        const struct us_sheet_chord *c = &sheet->chords[i];
        int32_t at = (c->at - bar->at) / beat;
        if (at >= cells->beats) break;
        struct cell *cell = &cells->beat[at];
        join(cell->text[ROW_CHORDS], us_chord_numeral(c->chord, c->key, word, sizeof word));
        join(cell->text[ROW_LETTERS], us_chord_symbol(c->chord, c->key, word, sizeof word));
        if (c->other.root != US_NO_CHORD)
            join(cell->text[ROW_OTHERS], us_chord_numeral(c->other, c->key, word, sizeof word));
    }
}

static void fill_bar(const struct us_sheet *sheet, size_t i, int number, int home, struct bar_cells *cells)
{
    const struct us_sheet_bar *bar = &sheet->bars[i];
    memset(cells, 0, sizeof *cells);
    cells->home = home;
    int32_t beat = page_ticks(us_metre_beat_quarters(bar->metre));
    cells->beats = (bar->len + beat - 1) / beat;
    if (cells->beats > BEATS_MAX) cells->beats = BEATS_MAX;
    if (number > 0) snprintf(cells->beat[0].text[ROW_BAR], CELL, "%d", number);
    for (int n = 1; n < 16; n++)
        if (bar->endings >> n & 1) snprintf(cells->beat[0].text[ROW_BAR], CELL, "%d [%d.", number, n);
    fill_voice(sheet, bar, beat, ROW_STEPS, cells);
    fill_voice(sheet, bar, beat, ROW_SECOND, cells);
    fill_chords(sheet, bar, beat, cells);
}

static int beat_width(const struct bar_cells *cells, int beat)
{
    size_t width = 1;
    for (int row = ROW_BAR; row < ROWS; row++)
        if (strlen(cells->beat[beat].text[row]) > width) width = strlen(cells->beat[beat].text[row]);
    return (int)width;
}

/* With its sign and the blank after it. */
static int bar_width(const struct bar_cells *cells)
{
    int width = 3;
    for (int b = 0; b < cells->beats; b++)
        width += beat_width(cells, b) + 1;
    return width;
}

static const char *bar_sign(const struct us_sheet *sheet, size_t i)
{
    if (sheet->bars[i].repeat_times) return ":|";
    if (i + 1 < sheet->bar_count && sheet->bars[i + 1].repeat_from) return "|:";
    return i + 1 == sheet->bar_count ? "||" : "|";
}

static bool row_is_empty(const struct bar_cells *bars, size_t count, int row)
{
    for (size_t i = 0; i < count; i++)
        for (int b = 0; b < bars[i].beats; b++)
            if (*bars[i].beat[b].text[row]) return false;
    return true;
}

/* No blanks at the end of a line. */
static void print_row(const struct us_sheet *sheet, const struct bar_cells *bars, size_t first, size_t count,
                      int row, FILE *out)
{
    char line[LINE_MAX_WIDTH + 2 * CELL];
    int n = snprintf(line, sizeof line, "%-*s", LABEL_WIDTH, LABELS[row]);
    for (size_t i = 0; i < count; i++) {
        for (int b = 0; b < bars[i].beats && n < LINE_MAX_WIDTH; b++)
            n += snprintf(line + n, sizeof line - (size_t)n, "%-*s ", beat_width(&bars[i], b),
                          bars[i].beat[b].text[row]);
        if (n < LINE_MAX_WIDTH)
            n += snprintf(line + n, sizeof line - (size_t)n, "%-2s ",
                          row == ROW_BAR ? "" : bar_sign(sheet, first + i));
    }
    while (n > 0 && line[n - 1] == ' ')
        n--;
    fprintf(out, "%.*s\n", n, line);
}

static void print_line(const struct us_sheet *sheet, const struct bar_cells *bars, size_t first, size_t count,
                       FILE *out)
{
    for (int row = 0; row < ROWS; row++)
        if (!row_is_empty(bars, count, row)) print_row(sheet, bars, first, count, row, out);
    fputc('\n', out);
}

static void print_head(const struct us_sheet *sheet, FILE *out)
{
    char key[40], metre[12], home[8];
    fprintf(out, "%s", *sheet->title ? sheet->title : "A tune");
    if (*sheet->composer) fprintf(out, " (%s)", sheet->composer);
    fprintf(out, "\n%s, %s", us_key_name(sheet->key, key, sizeof key),
            us_metre_name(sheet->metre, metre, sizeof metre));
    if (sheet->melody_count) {
        int first = sheet->melody[0].pitch[0];
        fprintf(out, ", starts on %s", us_key_letter(sheet->key, us_pitch_class(first), home, sizeof home));
        if (sheet->melody[0].finger) fprintf(out, " with finger %d", sheet->melody[0].finger);
    }
    fputs("\n\n", out);
}

void us_sheet_text(const struct us_sheet *sheet, int width, FILE *out)
{
    struct bar_cells *line = calloc(sheet->bar_count + 1, sizeof *line);
    if (!line) return;
    if (width > LINE_MAX_WIDTH) width = LINE_MAX_WIDTH;
    print_head(sheet, out);
    size_t first = 0, count = 0;
    int used = LABEL_WIDTH, number = 0, home = find_home(sheet);
    for (size_t i = 0; i < sheet->bar_count; i++) {
        bool counts = sheet_bar_counts(sheet, i);
        number += counts;
        fill_bar(sheet, i, counts ? number : 0, home, &line[count]);
        int wide = bar_width(&line[count]);
        if (count && used + wide - 1 > width) { /* no blank at the end */
            print_line(sheet, line, first, count, out);
            line[0] = line[count];
            first = i, count = 0, used = LABEL_WIDTH;
        }
        used += wide;
        count++;
    }
    print_line(sheet, line, first, count, out);
    fputs("- holds on, 0 is a rest, a dot joins notes of one beat, ' is an octave up, a comma an octave "
          "down.\n",
          out);
    free(line);
}
