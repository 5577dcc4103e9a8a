/* A lesson sheet as MusicXML 4.0 (W3C reference; element order as its schema has it): two staves, harmony,
   fingers, words under the notes, phrases. */
#include <string.h>

#include "musicxml_text.h"
#include "sheet_parts.h"
#include "sheet_stretch.h"
#include "sheet_values.h"
#include "written.h"

enum voice { VOICE_MELODY = 1, VOICE_SECOND = 2, VOICE_LEFT = 5 };
enum { SLUR_NOTES = 1, SLUR_PHRASE = 2 };

struct writer {
    const struct us_sheet *sheet;
    struct sheet_staff melody, second, left;
    size_t chord;
    int number;      /* of the measure */
    int unnumbered;  /* measures without one */
    uint16_t ending; /* the bracket that is open */
    FILE *out;
};

static void write_place(const char *step, const char *alter, int place, FILE *out)
{
    int sign;
    fprintf(out, "<%s>%c</%s>", step, us_spelling_letter(place, &sign), step);
    if (sign) fprintf(out, "<%s>%d</%s>", alter, sign, alter);
}

static void write_pitch(int pitch, int place, FILE *out)
{
    fputs("<pitch>", out);
    write_place("step", "alter", place, out);
    fprintf(out, "<octave>%d</octave></pitch>", us_spelling_octave(place, pitch));
}

/* The name of the value, and its dots. */
static void write_type(int32_t ticks, FILE *out)
{
    static const struct {
        const char *value, *name;
    } NAMES[] = {{"\\breve", "breve"}, {"1", "whole"}, {"2", "half"},  {"4", "quarter"}, {"8", "eighth"},
                 {"16", "16th"},       {"32", "32nd"}, {"64", "64th"}, {"128", "128th"}};
    const char *value = value_name(ticks);
    size_t length = value ? strcspn(value, ".") : 0;
    for (size_t i = 0; i < sizeof NAMES / sizeof *NAMES && value; i++)
        if (strlen(NAMES[i].value) == length && strncmp(NAMES[i].value, value, length) == 0)
            fprintf(out, "<type>%s</type>%s", NAMES[i].name, value[length] ? "<dot/>" : "");
}

static void write_slur(bool stop, bool start, int number, const char *placement, FILE *out)
{
    if (stop) fprintf(out, "<slur type=\"stop\" number=\"%d\"/>", number);
    if (start) fprintf(out, "<slur type=\"start\" number=\"%d\"%s/>", number, placement);
}

/* One written note or rest: the piece `piece` of a stretch. */
struct piece {
    int32_t len; /* as it sounds */
    int32_t value;
    bool first, last;
    bool tied_before, tied_after;
};

static void write_notations(const struct sheet_stretch *s, const struct piece *p, FILE *out)
{
    const struct us_sheet_sound *sound = s->sound;
    if (p->tied_before) fputs("<tied type=\"stop\"/>", out);
    if (p->tied_after) fputs("<tied type=\"start\"/>", out);
    bool begins = p->first && s->begins, ends = p->last && s->ends;
    write_slur(ends && sound->slur_closes, begins && sound->slur_opens, SLUR_NOTES, "", out);
    write_slur(ends && sound->phrase_closes, begins && sound->phrase_opens, SLUR_PHRASE,
               " placement=\"above\"", out);
    if (begins && sound->finger)
        fprintf(out, "<technical><fingering placement=\"above\">%d</fingering></technical>", sound->finger);
}

static void write_lyric(const struct us_sheet *sheet, const struct us_sheet_sound *sound, FILE *out)
{
    char word[16];
    us_sheet_word(sheet, sound, word, sizeof word);
    if (!*word) return;
    fputs("<lyric><syllabic>single</syllabic><text>", out);
    musicxml_text(word, out);
    fputs("</text></lyric>", out);
}

static void write_note(struct writer *w, const struct sheet_stretch *s, const struct piece *p, int n,
                       enum voice voice)
{
    FILE *out = w->out;
    const struct us_sheet_sound *sound = s->sound;
    fputs("<note>", out);
    if (n > 0) fputs("<chord/>", out);
    if (sound)
        write_pitch(sound->pitch[n], sound->place[n], out);
    else
        fputs("<rest/>", out);
    fprintf(out, "<duration>%d</duration>", p->len);
    if (p->tied_before) fputs("<tie type=\"stop\"/>", out);
    if (p->tied_after) fputs("<tie type=\"start\"/>", out);
    fprintf(out, "<voice>%d</voice>", (int)voice);
    write_type(p->value, out);
    if (s->triplet)
        fputs("<time-modification><actual-notes>3</actual-notes><normal-notes>2</normal-notes></"
              "time-modification>",
              out);
    fprintf(out, "<staff>%d</staff>", voice == VOICE_LEFT ? 2 : 1);
    bool opens = s->opens && p->first, closes = s->closes && p->last;
    if (n == 0 && (sound || opens || closes)) {
        fputs("<notations>", out);
        if (sound) write_notations(s, p, out);
        if (opens) fputs("<tuplet type=\"start\"/>", out);
        if (closes) fputs("<tuplet type=\"stop\"/>", out);
        fputs("</notations>", out);
    } else if (sound && (p->tied_before || p->tied_after)) {
        fprintf(out, "<notations>%s%s</notations>", p->tied_before ? "<tied type=\"stop\"/>" : "",
                p->tied_after ? "<tied type=\"start\"/>" : "");
    }
    if (voice == VOICE_MELODY && sound && p->first && s->begins) write_lyric(w->sheet, sound, out);
    fputs("</note>\n", out);
}

static void write_stretch(struct writer *w, const struct us_sheet_bar *bar, const struct sheet_stretch *s,
                          enum voice voice)
{
    int32_t pieces[VALUES_MAX], written = s->triplet ? s->len * 3 / 2 : s->len;
    size_t count = value_cut(bar->metre, s->triplet ? 0 : s->from, written, !s->sound, pieces);
    for (size_t i = 0; i < count; i++) {
        struct piece p = {.len = s->triplet ? pieces[i] * 2 / 3 : pieces[i],
                          .value = pieces[i],
                          .first = i == 0,
                          .last = i + 1 == count,
                          .tied_before = s->sound && (i > 0 || !s->begins),
                          .tied_after = s->sound && (i + 1 < count || !s->ends)};
        for (int n = 0; n < (s->sound ? s->sound->count : 1); n++)
            write_note(w, s, &p, n, voice);
    }
}

/* Chords that begin in this stretch, with their numerals under the left hand. */
static void write_chords(struct writer *w, int32_t from, int32_t until)
{
    static const char *const KINDS[US_CHORD_KINDS] = {"major", "minor", "diminished", "dominant",
                                                      "minor-seventh"};
    const struct us_sheet *sheet = w->sheet;
    char numeral[16];
    for (; w->chord < sheet->chord_count && sheet->chords[w->chord].at < until; w->chord++) {
        const struct us_sheet_chord *c = &sheet->chords[w->chord];
        fputs("<harmony><root>", w->out);
        write_place("root-step", "root-alter", us_key_spelling(c->key, c->chord.root), w->out);
        fprintf(w->out, "</root><kind>%s</kind><offset>%d</offset></harmony>\n", KINDS[c->chord.kind],
                c->at - from);
        fprintf(w->out, "<direction placement=\"below\"><direction-type><words>%s",
                us_chord_numeral(c->chord, c->key, numeral, sizeof numeral));
        if (c->other.root != US_NO_CHORD)
            fprintf(w->out, " or %s", us_chord_numeral(c->other, c->key, numeral, sizeof numeral));
        fprintf(w->out, "</words></direction-type><offset>%d</offset><staff>%d</staff></direction>\n",
                c->at - from, sheet->settings.left_hand ? 2 : 1);
    }
}

static void write_voice(struct writer *w, const struct us_sheet_bar *bar, enum voice voice)
{
    struct sheet_stretch stretches[STRETCHES_MAX];
    struct sheet_staff *staff = voice == VOICE_MELODY   ? &w->melody
                                : voice == VOICE_SECOND ? &w->second
                                                        : &w->left;
    if (voice != VOICE_MELODY) fprintf(w->out, "<backup><duration>%d</duration></backup>\n", bar->len);
    size_t count = sheet_stretches(staff, bar, stretches);
    for (size_t i = 0; i < count; i++) {
        int32_t from = bar->at + stretches[i].from;
        if (voice == VOICE_MELODY) write_chords(w, from, from + stretches[i].len);
        write_stretch(w, bar, &stretches[i], voice);
    }
}

static void write_attributes(struct writer *w, size_t i, bool first_key)
{
    static const char *const MODES[US_MODES] = {"major", "minor", "dorian", "mixolydian"};
    const struct us_sheet *sheet = w->sheet;
    const struct us_sheet_bar *bar = &sheet->bars[i];
    bool metre = i == 0 || !us_metre_equal(bar->metre, bar[-1].metre);
    bool key = i == 0 || !us_key_equal(bar->key, bar[-1].key);
    if (!metre && !key) return;
    fputs("<attributes>", w->out);
    if (i == 0 && first_key) fprintf(w->out, "<divisions>%d</divisions>", US_SHEET_QUARTER);
    if (key)
        fprintf(w->out, "<key><fifths>%d</fifths><mode>%s</mode></key>", us_key_signature(bar->key),
                MODES[bar->key.mode]);
    if (metre)
        fprintf(w->out, "<time><beats>%u</beats><beat-type>%u</beat-type></time>", bar->metre.top,
                bar->metre.bottom);
    if (i == 0 && first_key && sheet->settings.left_hand)
        fputs("<staves>2</staves><clef number=\"1\"><sign>G</sign><line>2</line></clef>"
              "<clef number=\"2\"><sign>F</sign><line>4</line></clef>",
              w->out);
    else if (i == 0 && first_key)
        fputs("<clef><sign>G</sign><line>2</line></clef>", w->out);
    fputs("</attributes>\n", w->out);
}

static void write_ending(struct writer *w, const char *type)
{
    fputs("<ending number=\"", w->out);
    us_write_times(w->ending, w->out);
    fprintf(w->out, "\" type=\"%s\"/>", type);
}

static void write_left_bar_line(struct writer *w, const struct us_sheet_bar *bar)
{
    if (bar->endings) w->ending = bar->endings;
    if (!bar->endings && !bar->repeat_from) return;
    fputs("<barline location=\"left\">", w->out);
    if (bar->repeat_from) fputs("<bar-style>heavy-light</bar-style>", w->out);
    if (bar->endings) write_ending(w, "start");
    if (bar->repeat_from) fputs("<repeat direction=\"forward\"/>", w->out);
    fputs("</barline>\n", w->out);
}

static void write_right_bar_line(struct writer *w, size_t i)
{
    const struct us_sheet_bar *bar = &w->sheet->bars[i];
    bool last = i + 1 == w->sheet->bar_count;
    bool ends = w->ending && (last || bar->repeat_times || bar->closes || bar[1].endings);
    if (!last && !ends && !bar->repeat_times && !bar->closes) return;
    fputs("<barline location=\"right\">", w->out);
    if (last || bar->repeat_times)
        fputs("<bar-style>light-heavy</bar-style>", w->out);
    else if (bar->closes)
        fputs("<bar-style>light-light</bar-style>", w->out);
    if (ends) write_ending(w, "stop");
    if (bar->repeat_times)
        fprintf(w->out, "<repeat direction=\"backward\" times=\"%u\"/>", bar->repeat_times);
    fputs("</barline>\n", w->out);
    if (ends) w->ending = 0;
}

static void write_words(struct writer *w)
{
    char key[40];
    fprintf(w->out,
            "<direction placement=\"above\"><direction-type><words "
            "font-weight=\"bold\">%s</words></direction-type>",
            us_key_name(w->sheet->key, key, sizeof key));
    if (w->sheet->quarters_a_minute > 0)
        fprintf(w->out, "<sound tempo=\"%g\"/>", w->sheet->quarters_a_minute);
    fputs("</direction>\n", w->out);
}

static void write_sheet(struct writer *w, bool first_key)
{
    for (size_t i = 0; i < w->sheet->bar_count; i++) {
        const struct us_sheet_bar *bar = &w->sheet->bars[i];
        if (sheet_bar_counts(w->sheet, i))
            fprintf(w->out, "<measure number=\"%d\">\n", ++w->number);
        else if (i == 0 && first_key)
            fputs("<measure number=\"0\" implicit=\"yes\">\n", w->out);
        else
            fprintf(w->out, "<measure number=\"X%d\" implicit=\"yes\">\n", ++w->unnumbered);
        if (i == 0 && !first_key) fputs("<print new-page=\"yes\"/>\n", w->out);
        write_attributes(w, i, first_key);
        write_left_bar_line(w, bar);
        if (i == 0) write_words(w);
        write_voice(w, bar, VOICE_MELODY);
        if (w->sheet->second_count) write_voice(w, bar, VOICE_SECOND);
        if (w->sheet->settings.left_hand) write_voice(w, bar, VOICE_LEFT);
        write_right_bar_line(w, i);
        fputs("</measure>\n", w->out);
    }
}

void us_sheet_musicxml(const struct us_sheet *sheets, size_t count, FILE *out)
{
    musicxml_begin(out);
    if (count && *sheets[0].title) {
        fputs("<movement-title>", out);
        musicxml_text(sheets[0].title, out);
        fputs("</movement-title>\n", out);
    }
    if (count && *sheets[0].composer) {
        fputs("<identification><creator type=\"composer\">", out);
        musicxml_text(sheets[0].composer, out);
        fputs("</creator></identification>\n", out);
    }
    fputs("<part-list><score-part id=\"P1\"><part-name>Keyboard</part-name></score-part></part-list>\n"
          "<part id=\"P1\">\n",
          out);
    struct writer w = {.out = out};
    for (size_t i = 0; i < count; i++) {
        w.sheet = &sheets[i];
        w.melody = (struct sheet_staff){.sounds = sheets[i].melody, .count = sheets[i].melody_count};
        w.second = (struct sheet_staff){.sounds = sheets[i].second, .count = sheets[i].second_count};
        w.left = (struct sheet_staff){.sounds = sheets[i].left, .count = sheets[i].left_count};
        w.chord = 0;
        write_sheet(&w, i == 0);
    }
    fputs("</part>\n</score-partwise>\n", out);
}
