/* A lesson sheet as LilyPond source: the page, its pieces and how they are put together. */
#include <math.h>
#include <string.h>

#include "lilypond_parts.h"
#include "undersong/signs.h"

/* What fits on a page of A4 between its margins, and how high a line of music is at staff size 20. */
static const double PAGE_MM = 225, LINE_MM = 47, LINE_MM_CHORDS_ONLY = 28, LINE_MM_OTHERS = 4,
                    LINE_MM_FINGERS = 2.5;

enum { EVEN_BARS = 4 };

/* Most notes in a row of four bars. */
static size_t densest_line(const struct us_sheet *sheet)
{
    size_t most = 0, note = 0;
    for (size_t i = 0; i < sheet->bar_count; i += EVEN_BARS) {
        size_t last = i + EVEN_BARS < sheet->bar_count ? i + EVEN_BARS : sheet->bar_count;
        int32_t end = sheet->bars[last - 1].at + sheet->bars[last - 1].len;
        size_t count = 0;
        for (; note < sheet->melody_count && sheet->melody[note].at < end; note++)
            count++;
        if (count > most) most = count;
    }
    return most;
}

static size_t full_bars(const struct us_sheet *sheet)
{
    size_t count = 0;
    for (size_t i = 0; i < sheet->bar_count; i++)
        count += sheet->bars[i].len >= us_metre_bar_quarters(sheet->bars[i].metre) * US_SHEET_QUARTER - 1;
    return count;
}

/* The largest type that keeps a key on one page; the usual size where none does. */
static struct lily_shape choose_shape(const struct us_sheet *sheet, bool large)
{
    static const double USUAL[] = {20, 18, 17, 16}, LARGE[] = {28, 26, 24, 22};
    const double *sizes = large ? LARGE : USUAL;
    bool two_staves = sheet->settings.left_hand;
    double line = two_staves ? LINE_MM : LINE_MM_CHORDS_ONLY;
    if (lily_has_others(sheet)) line += LINE_MM_OTHERS;
    if (sheet->settings.fingering) line += LINE_MM_FINGERS;
    size_t densest = densest_line(sheet), room = large ? 22 : 36;
    struct lily_shape shape = {sizes[0], densest <= room ? EVEN_BARS : 0, false};
    double lines = ceil((double)full_bars(sheet) / EVEN_BARS);
    if (densest > room) lines = ceil(lines * (double)densest / (double)room);
    for (int i = 0; i < 4 && !shape.one_page; i++)
        if (lines * line * sizes[i] / 20 <= PAGE_MM) shape.staff_size = sizes[i], shape.one_page = true;
    return shape;
}

static const char *texture_words(enum us_texture texture)
{
    static const char *const WORDS[US_TEXTURES] = {
        [US_TEXTURE_BLOCK] = "block chords",
        [US_TEXTURE_FIFTHS] = "open fifths",
        [US_TEXTURE_ROOT_RUN] = "single roots, a run on the V",
        [US_TEXTURE_BROKEN] = "broken chords",
        [US_TEXTURE_WALTZ] = "root, then chords",
        [US_TEXTURE_DRONE] = "a drone",
        [US_TEXTURE_ROOTS] = "single roots",
    };
    return WORDS[texture];
}

static void write_head(bool large, const struct lily_shape *shape, FILE *out)
{
    fprintf(
        out,
        "\\version \"2.24.0\"\n"
        "#(set-global-staff-size %g)\n"
        "\\paper {\n"
        "  #(set-paper-size \"a4\")\n"
        "  top-margin = 14\\mm\n  bottom-margin = 14\\mm\n  left-margin = %d\\mm\n  right-margin = %d\\mm\n"
        "  indent = 0\n  ragged-bottom = ##t  ragged-last-bottom = ##t\n  print-page-number = ##f\n"
        "  markup-system-spacing.basic-distance = #%d\n"
        "  markup-system-spacing.padding = #2\n"
        "  system-system-spacing.basic-distance = #%d\n"
        "  system-system-spacing.padding = #%d\n"
        "  score-markup-spacing.padding = #3\n"
        "}\n"
        "\\header { tagline = ##f }\n",
        shape->staff_size, large ? 12 : 17, large ? 12 : 17, large ? 14 : 12, large ? 16 : 14, large ? 4 : 3);
    fputs("\\layout {\n"
          "  \\context { \\Score \\omit BarNumber \\override SpacingSpanner.common-shortest-duration =\n"
          "    #(ly:make-moment 1/8)\n"
          "    alternativeRestores = #'(measurePosition) }\n"
          "  \\context { \\Staff \\numericTimeSignature }\n"
          "  \\context { \\ChordNames chordChanges = ##t\n"
          "    \\override ChordName.font-size = #2 \\override ChordName.font-series = #'bold\n"
          "    \\override VerticalAxisGroup.nonstaff-relatedstaff-spacing.padding = #0.8 }\n"
          "  \\context { \\Lyrics \\override LyricText.font-family = #'sans\n"
          "    \\override VerticalAxisGroup.nonstaff-relatedstaff-spacing.padding = #0.6\n"
          "    \\override VerticalAxisGroup.nonstaff-unrelatedstaff-spacing.padding = #2 }\n"
          "  \\context { \\Voice \\override Fingering.font-size = #-3 \\override Fingering.padding = #0.5\n"
          "    \\override Fingering.avoid-slur = #'inside\n"
          "    \\override Fingering.add-stem-support = ##t\n"
          "    fingeringOrientations = #'(up)\n"
          "    \\override PhrasingSlur.direction = #UP \\override TupletBracket.direction = #DOWN }\n"
          "}\n",
          out);
}

/* Names of variables are made of letters alone: A to Z, AA and on. */
static const char *variable(size_t index, char out[8])
{
    size_t n = 0;
    if (index >= 26) out[n++] = (char)('A' + (index / 26 - 1) % 26);
    out[n++] = (char)('A' + index % 26);
    out[n] = 0;
    return out;
}

static void begin_staff(const struct us_sheet *sheet, const char *part, const char *name, const char *clef,
                        FILE *out)
{
    fprintf(out, "%s%s = {\n  \\clef %s\n  ", part, name, clef);
    lily_key(sheet->key, out);
    fputc('\n', out);
}

static void write_music(const struct us_sheet *sheet, const char *name, const struct lily_shape *shape,
                        FILE *out)
{
    fputc('\n', out);
    begin_staff(sheet, "melody", name, "treble", out);
    if (sheet->quarters_a_minute > 0)
        fprintf(out, "  \\tempo 4 = %d\n", (int)lround(sheet->quarters_a_minute));
    lily_staff(sheet, LILY_MELODY, shape, out);
    fputs("}\n", out);
    if (sheet->second_count) {
        fprintf(out, "second%s = {\n", name);
        lily_staff(sheet, LILY_SECOND, shape, out);
        fputs("}\n", out);
    }
    if (sheet->settings.left_hand) {
        begin_staff(sheet, "left", name, "bass", out);
        lily_staff(sheet, LILY_LEFT, shape, out);
        fputs("}\n", out);
    }
    fprintf(out, "names%s = \\chordmode {\n ", name);
    lily_chords(sheet, out);
    fprintf(out, "}\nnumerals%s = \\lyricmode {\n ", name);
    lily_numerals(sheet, false, out);
    fputs("}\n", out);
    if (sheet->settings.under != US_SHEET_UNDER_NOTHING) {
        fprintf(out, "words%s = \\lyricmode {\n ", name);
        lily_words(sheet, out);
        fputs("}\n", out);
    }
    if (lily_has_others(sheet)) {
        fprintf(out, "others%s = \\lyricmode {\n ", name);
        lily_numerals(sheet, true, out);
        fputs("}\n", out);
    }
}

static void write_score(const struct us_sheet *sheet, const char *name, FILE *out)
{
    bool left = sheet->settings.left_hand;
    fprintf(out, "  \\score {\n    <<\n      \\new ChordNames \\names%s\n", name);
    fprintf(out, "      %s<<\n", left ? "\\new PianoStaff " : "");
    if (sheet->second_count)
        fprintf(out,
                "        \\new Staff << \\new Voice { \\voiceOne \\melody%s } \\new Voice { \\voiceTwo "
                "\\second%s } >>\n",
                name, name);
    else
        fprintf(out, "        \\new Staff \\melody%s\n", name);
    if (sheet->settings.under != US_SHEET_UNDER_NOTHING)
        fprintf(out, "        \\new Lyrics \\with { \\override LyricText.font-size = #0 } \\words%s\n", name);
    if (left) fprintf(out, "        \\new Staff \\left%s\n", name);
    fprintf(out,
            "        \\new Lyrics \\with { \\override LyricText.font-size = #1\n"
            "          \\override LyricText.font-series = #'bold\n"
            "          \\override VerticalAxisGroup.nonstaff-relatedstaff-spacing.padding = #1.5 } "
            "\\numerals%s\n",
            name);
    if (lily_has_others(sheet))
        fprintf(out,
                "        \\new Lyrics \\with { \\override LyricText.font-size = #-1\n"
                "          \\override LyricText.font-shape = #'italic } \\others%s\n",
                name);
    fputs("      >>\n    >>\n    \\layout { }\n  }\n", out);
    fprintf(out, "  \\score {\n    \\unfoldRepeats << \\new Staff \\melody%s", name);
    if (sheet->second_count) fprintf(out, " \\new Staff \\second%s", name);
    if (left) fprintf(out, " \\new Staff \\left%s", name);
    fputs(" >>\n    \\midi { }\n  }\n", out);
}

static void write_legend(const struct us_sheet *sheet, FILE *out)
{
    static const char *const UNDER[] = {"The figures under the notes are the steps of the scale. ",
                                        "The syllables under the notes are the steps of the scale. ", ""};
    fputs("  \\markup \\vspace #0.5\n  \\markup \\small \\sans \\wordwrap {\n    ", out);
    fputs(UNDER[sheet->settings.under], out);
    fputs("Roman numerals name the chords of the left hand", out);
    fputs(lily_has_others(sheet) ? "; \\italic or marks where another chord fits as well.\n" : ".\n", out);
    if (sheet->settings.fingering)
        fputs("    Small figures above the notes are the fingers of the right hand, 1 the thumb.\n", out);
    fputs("  }\n", out);
}

static void write_part(const struct us_sheet *sheet, const char *name, bool one_page, FILE *out)
{
    char key[40], word[16];
    us_key_name(sheet->key, key, sizeof key);
    fputs("\n\\bookpart {\n", out);
    if (one_page) fputs("  \\paper { page-count = 1 }\n", out);
    fputs("  \\header {\n    title = ", out);
    lily_quote(*sheet->title ? sheet->title : "A tune", out);
    char printed[60], subtitle[160];
    size_t letter = strcspn(key, " ");
    snprintf(word, sizeof word, "%.*s", (int)letter, key);
    us_write_signs(word, printed, sizeof printed);
    snprintf(subtitle, sizeof subtitle, "%s%s \u2013 %s%s", printed, key + letter,
             sheet->settings.left_hand ? "left hand: " : "",
             sheet->settings.left_hand ? texture_words(sheet->settings.texture) : "chords by name");
    fputs("\n    subtitle = ", out);
    lily_quote(subtitle, out);
    fputs("\n    composer = ", out);
    lily_quote(sheet->composer, out);
    fputs("\n  }\n", out);
    write_score(sheet, name, out);
    write_legend(sheet, out);
    fputs("}\n", out);
}

void us_sheet_lilypond(const struct us_sheet *sheets, size_t count, bool large, FILE *out)
{
    if (!count) return;
    char name[8];
    struct lily_shape shape = choose_shape(&sheets[0], large);
    write_head(large, &shape, out);
    for (size_t i = 0; i < count; i++)
        write_music(&sheets[i], variable(i, name), &shape, out);
    for (size_t i = 0; i < count; i++)
        write_part(&sheets[i], variable(i, name), shape.one_page, out);
}
