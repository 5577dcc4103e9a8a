/* What stands above and below a staff in LilyPond source: chord names, words, numerals. */
#include <string.h>

#include "lilypond_parts.h"
#include "undersong/signs.h"

void lily_quote(const char *text, FILE *out)
{
    fputc('"', out);
    for (; *text; text++) {
        if (*text == '"' || *text == '\\') fputc('\\', out);
        fputc((unsigned char)*text < ' ' ? ' ' : *text, out);
    }
    fputc('"', out);
}

static const char *chord_suffix(struct us_chord chord)
{
    static const char *const SUFFIX[US_CHORD_KINDS] = {"", ":m", ":dim", ":7", ":m7"};
    return SUFFIX[chord.kind];
}

static void write_gap(FILE *out, int32_t ticks)
{
    char value[24];
    if (ticks > 0) fprintf(out, " s%s", lily_value(ticks, value, sizeof value));
}

void lily_chords(const struct us_sheet *sheet, FILE *out)
{
    char pitch[16], value[24];
    int32_t at = 0;
    for (size_t i = 0; i < sheet->chord_count; i++) {
        const struct us_sheet_chord *c = &sheet->chords[i];
        write_gap(out, c->at - at);
        lily_pitch(48 + c->chord.root, us_key_spelling(c->key, c->chord.root), pitch, sizeof pitch);
        pitch[strcspn(pitch, "',")] = 0;
        fprintf(out, " %s%s%s", pitch, lily_value(c->len, value, sizeof value), chord_suffix(c->chord));
        at = c->at + c->len;
    }
    fputc('\n', out);
}

static void write_word(FILE *out, const char *word, int32_t len)
{
    char value[24];
    fputc(' ', out);
    lily_quote(word, out);
    fputs(lily_value(len, value, sizeof value), out);
}

static void write_skip(FILE *out, int32_t ticks)
{
    char value[24];
    if (ticks > 0) fprintf(out, " \\skip %s", lily_value(ticks, value, sizeof value));
}

void lily_words(const struct us_sheet *sheet, FILE *out)
{
    char word[16], printed[32];
    int32_t at = 0;
    for (size_t i = 0; i < sheet->melody_count; i++) {
        const struct us_sheet_sound *s = &sheet->melody[i];
        write_skip(out, s->at - at);
        us_sheet_word(sheet, s, word, sizeof word);
        if (sheet->settings.under == US_SHEET_UNDER_STEPS)
            us_write_signs(word, printed, sizeof printed);
        else
            snprintf(printed, sizeof printed, "%s", word);
        write_word(out, printed, s->len);
        at = s->at + s->len;
    }
    fputc('\n', out);
}

bool lily_has_others(const struct us_sheet *sheet)
{
    for (size_t i = 0; i < sheet->chord_count; i++)
        if (sheet->chords[i].other.root != US_NO_CHORD) return true;
    return false;
}

void lily_numerals(const struct us_sheet *sheet, bool others, FILE *out)
{
    char plain[16], printed[40] = "or ";
    int32_t at = 0;
    for (size_t i = 0; i < sheet->chord_count; i++) {
        const struct us_sheet_chord *c = &sheet->chords[i];
        struct us_chord chord = others ? c->other : c->chord;
        if (chord.root == US_NO_CHORD) continue;
        write_skip(out, c->at - at);
        us_chord_numeral(chord, c->key, plain, sizeof plain);
        us_write_signs(plain, printed + 3, sizeof printed - 3);
        write_word(out, others ? printed : printed + 3, c->len);
        at = c->at + c->len;
    }
    fputc('\n', out);
}
