#include "compare.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "beat_name.h"
#include "commands.h"
#include "harmonize_write.h"
#include "undersong/plain_line.h"

static const double NEAR = 1e-3;

/* One beat of both sides. */
struct beat {
    double at, len;
    struct us_chord chord[2];
    struct us_key key[2];
};

struct comparison {
    const struct harmonized *side[2];
    size_t beats, same, same_role;
};

static struct us_chord chord_at(const struct harmonized *h, double at)
{
    for (size_t i = 0; i < h->count; i++)
        if (h->chords[i].at < at + NEAR && at + NEAR < h->chords[i].at + h->chords[i].len)
            return h->chords[i].choice.chord;
    return (struct us_chord){US_NO_CHORD, US_CHORD_MAJ};
}

static double end_of(const struct harmonized *h)
{
    return h->count ? h->chords[h->count - 1].at + h->chords[h->count - 1].len : 0;
}

static bool read_beat(const struct comparison *c, size_t number, struct beat *beat)
{
    const struct harmonized *a = c->side[0];
    double len = us_metre_beat_quarters(a->request.metre), first = fmod(a->request.pickup, len);
    double lead = first > NEAR ? len - first : 0; /* a pickup may begin inside a beat */
    beat->at = (double)number * len - lead;
    beat->len = len;
    if (beat->at < 0) beat->len += beat->at, beat->at = 0;
    for (int i = 0; i < 2; i++) {
        beat->chord[i] = chord_at(c->side[i], beat->at);
        beat->key[i] = us_explain_key(&c->side[i]->explain, beat->at);
    }
    return beat->at < fmin(end_of(a), end_of(c->side[1])) - NEAR;
}

static bool same_chord(const struct beat *b)
{
    if (b->chord[0].root == US_NO_CHORD || b->chord[1].root == US_NO_CHORD)
        return b->chord[0].root == b->chord[1].root;
    int above[2];
    for (int i = 0; i < 2; i++)
        above[i] = us_pitch_class(b->chord[i].root - b->key[i].tonic);
    bool seventh_only = (b->chord[0].kind == US_CHORD_DOM7 && b->chord[1].kind == US_CHORD_MAJ) ||
                        (b->chord[1].kind == US_CHORD_DOM7 && b->chord[0].kind == US_CHORD_MAJ);
    return above[0] == above[1] && (b->chord[0].kind == b->chord[1].kind || seventh_only);
}

static bool same_role(const struct beat *b)
{
    enum us_role first = us_chord_role(b->chord[0], b->key[0]),
                 second = us_chord_role(b->chord[1], b->key[1]);
    return same_chord(b) || (first == second && first != US_ROLE_NONE);
}

static void count_beats(struct comparison *c)
{
    struct beat beat;
    while (read_beat(c, c->beats, &beat)) {
        c->beats++;
        c->same += same_chord(&beat);
        c->same_role += same_role(&beat);
    }
}

static void place_of(const struct comparison *c, double at, int *bar, double *beat)
{
    const struct us_harmony_request *r = &c->side[0]->request;
    double bar_quarters = us_metre_bar_quarters(r->metre), in_tune = at - r->pickup;
    double line = floor(in_tune / bar_quarters + NEAR);
    *bar = (int)line + 1;
    *beat = 1 + (*bar > 0 ? in_tune - line * bar_quarters : at) / us_metre_beat_quarters(r->metre);
}

static const char *full_name(struct us_chord chord, struct us_key key, char *out, size_t size)
{
    char numeral[16], symbol[16];
    snprintf(out, size, "%s %s", us_chord_numeral(chord, key, numeral, sizeof numeral),
             us_chord_symbol(chord, key, symbol, sizeof symbol));
    return out;
}

static double percent(size_t part, size_t all)
{
    return all ? 100.0 * (double)part / (double)all : 100;
}

static void print_text(const struct comparison *c, const char *first_name, const char *second_name)
{
    struct beat beat;
    char first[40], second[40], figure[BEAT_NAME], name[512];
    printf("first:  %s\n", us_plain_line(first_name, name, sizeof name));
    printf("second: %s\n", us_plain_line(second_name, name, sizeof name));
    printf("\n bar beat  %-12s %s\n", "first", "second");
    struct beat before = {0};
    int bar_before = -1;
    for (size_t i = 0; i < c->beats; i++) {
        int bar;
        double in_bar;
        read_beat(c, i, &beat);
        place_of(c, beat.at, &bar, &in_bar);
        bool goes_on = bar == bar_before && us_chord_equal(beat.chord[0], before.chord[0]) &&
                       us_chord_equal(beat.chord[1], before.chord[1]);
        before = beat;
        bar_before = bar;
        if (same_chord(&beat) || goes_on) continue;
        printf(" %3d %s  %-12s %s%s\n", bar, beat_figure(in_bar, 4, figure),
               full_name(beat.chord[0], beat.key[0], first, sizeof first),
               full_name(beat.chord[1], beat.key[1], second, sizeof second),
               same_role(&beat) ? "  (one stands in for the other)" : "");
    }
    if (c->same == c->beats) puts("   no difference");
    printf("\nthe same chord on %zu of %zu beats (%.0f %%), the same part in the harmony on %zu (%.0f %%)\n",
           c->same, c->beats, percent(c->same, c->beats), c->same_role, percent(c->same_role, c->beats));
    if (fabs(end_of(c->side[0]) - end_of(c->side[1])) > NEAR)
        puts("one tune is longer than the other: only what both have was compared");
}

static void print_side(const struct beat *beat, int side)
{
    char name[16];
    if (beat->chord[side].root == US_NO_CHORD)
        printf("null");
    else
        printf("{\"degree\":\"%s\",\"root\":%d,\"kind\":\"%s\"}",
               degree_name(beat->chord[side], beat->key[side], name, sizeof name), beat->chord[side].root,
               us_chord_kind_name((enum us_chord_kind)beat->chord[side].kind));
}

static void print_json(const struct comparison *c, const char *first_name, const char *second_name)
{
    struct beat beat;
    bool any = false;
    printf("{\"first\":");
    write_json_string(first_name, stdout);
    printf(",\"second\":");
    write_json_string(second_name, stdout);
    printf(",\"beats\":%zu,\"same\":%zu,\"same_role\":%zu,\"differences\":[", c->beats, c->same,
           c->same_role);
    for (size_t i = 0; i < c->beats; i++) {
        int bar;
        double in_bar;
        read_beat(c, i, &beat);
        if (same_chord(&beat)) continue;
        place_of(c, beat.at, &bar, &in_bar);
        printf("%s\n  {\"at\":%.10g,\"len\":%.10g,\"bar\":%d,\"beat\":%.6g,\"first\":", any ? "," : "",
               beat.at, beat.len, bar, in_bar);
        print_side(&beat, 0);
        printf(",\"second\":");
        print_side(&beat, 1);
        printf("}");
        any = true;
    }
    puts("\n]}");
}

int compare_harmonies(const struct harmonize_settings *settings, const struct us_harmony_tables *tables,
                      const struct inputs *inputs)
{
    struct harmonized sides[2];
    struct us_error error;
    struct harmonize_settings second = *settings;
    bool one_file = inputs->count == 1;
    second.afresh = settings->afresh || one_file;
    enum us_status status = US_STATUS_OK;
    if (settings->to)
        status = us_error_set(&error, US_STATUS_BAD_INPUT,
                              "--compare: is printed; leave out --to, or write > %.100s in its place",
                              settings->to);
    else if (inputs->count > 2 || (settings->format != FORMAT_TEXT && settings->format != FORMAT_JSON))
        status =
            us_error_set(&error, US_STATUS_BAD_INPUT,
                         inputs->count > 2 ? "--compare: give two tunes, or one with chords written in it"
                                           : "--compare: is written as text or json only");
    if (status) return report_error(&error);
    const char *first_name = inputs->paths[0], *second_name = one_file ? "found afresh" : inputs->paths[1];
    status = harmonize_file(settings, tables, first_name, settings->number, &sides[0], &error);
    if (status) return report_error(&error);
    status = harmonize_file(&second, tables, one_file ? first_name : second_name, settings->number, &sides[1],
                            &error);
    if (status) {
        harmonized_finish(&sides[0]);
        return report_error(&error);
    }
    struct comparison c = {.side = {&sides[0], &sides[1]}};
    count_beats(&c);
    (settings->format == FORMAT_JSON ? print_json : print_text)(&c, first_name, second_name);
    harmonized_finish(&sides[0]);
    harmonized_finish(&sides[1]);
    return printed(&error) ? report_error(&error) : 0;
}
