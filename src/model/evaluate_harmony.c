/* How often the chords are those that were written, by corpus, mode, metre and sight.

   usage: evaluate_harmony FOLDER TABLES [FOLDS]
   Judged on the tunes of FOLDS (all where none are named), which TABLES ("-": the built-in ones) should not
   have been learned from. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "corpus.h"
#include "lesson.h"
#include "program_words.h"
#include "returns.h"
#include "undersong/harmony_file.h"
#include "undersong/keyfinder.h"

enum sight {
    SIGHT_WHOLE_FOUND,
    SIGHT_WHOLE,
    SIGHT_SIXTEEN,
    SIGHT_WIDE,
    SIGHT_LIVE,
    SIGHT_AGAIN,
    SIGHT_OTHER_KEY,
    SIGHTS
};
static const char *const SIGHT_NAMES[SIGHTS] = {"whole tune, key found",
                                                "whole tune",
                                                "first sixteen bars",
                                                "whole tune, wide",
                                                "live",
                                                "live, second time",
                                                "live, third time, a fourth up"};

struct score {
    double right, beats, down_right, downs, root_right, roots;
    double pairs, written, said; /* beats after one another, and how many begin another chord */
};
struct row {
    char name[48];
    struct score score;
};
enum { ROWS_MAX = 64 };
static struct row rows[SIGHTS][ROWS_MAX];
static size_t row_count[SIGHTS];
static double confusion[SIGHTS][US_ROLES][US_ROLES];

static struct score *row_of(enum sight sight, const char *name)
{
    for (size_t i = 0; i < row_count[sight]; i++)
        if (strcmp(rows[sight][i].name, name) == 0) return &rows[sight][i].score;
    if (row_count[sight] == ROWS_MAX) return &rows[sight][ROWS_MAX - 1].score;
    struct row *row = &rows[sight][row_count[sight]++];
    snprintf(row->name, sizeof row->name, "%s", row_count[sight] < ROWS_MAX ? name : "others");
    return &row->score;
}

static void add(struct score *s, const struct score *more)
{
    s->right += more->right;
    s->beats += more->beats;
    s->down_right += more->down_right;
    s->downs += more->downs;
    s->root_right += more->root_right;
    s->roots += more->roots;
    s->pairs += more->pairs;
    s->written += more->written;
    s->said += more->said;
}

static struct us_chord written_at(const struct corpus_tune *t, double at)
{
    return us_chord_at(t->tune.chords, t->tune.chord_count, at);
}

/* The roles of the beat before. */
struct before {
    enum us_role right, got;
};

static void mark_change(struct before *before, enum us_role right, enum us_role got, struct score *score)
{
    if (before->right != US_ROLE_NONE && right != US_ROLE_NONE) {
        score->pairs++;
        score->written += before->right != right;
        score->said += before->got != got;
    }
    *before = (struct before){right, got};
}

/* One beat's answer against what was written, in the key that was written. */
static void mark(const struct corpus_tune *t, enum sight sight, const struct us_position *position, double at,
                 struct us_chord answer, struct before *before, struct score *score)
{
    struct us_chord written = written_at(t, at);
    if (written.root == US_NO_CHORD || !position->on_beat) {
        before->right = US_ROLE_NONE;
        return;
    }
    enum us_role right = us_chord_role(written, t->key), got = us_chord_role(answer, t->key);
    mark_change(before, right, got, score);
    score->roots++;
    score->root_right += answer.root == written.root;
    if (right == US_ROLE_NONE) return;
    score->beats++;
    score->right += got == right;
    score->downs += position->on_bar;
    score->down_right += position->on_bar && got == right;
    confusion[sight][right][got]++;
}

/* The tunes that come out worst over the whole tune. */
enum { WORST = 10 };
static struct worst {
    double share;
    const struct corpus_tune *tune;
    struct score score;
} worst[WORST + 1];
static size_t worst_count;

static void keep_worst(const struct corpus_tune *t, const struct score *score)
{
    if (score->beats < 1) return;
    double share = score->right / score->beats;
    size_t at = worst_count;
    for (; at > 0 && worst[at - 1].share > share; at--)
        worst[at] = worst[at - 1];
    if (at < WORST) worst[at] = (struct worst){share, t, *score};
    if (worst_count < WORST) worst_count++;
}

static void print_worst(void)
{
    printf("worst tunes, whole tune\n");
    for (size_t i = 0; i < worst_count; i++)
        printf("  %-40.40s %-5s %.0f of %.0f right\n", worst[i].tune->id,
               worst[i].tune->key.mode == US_MODE_MINOR ? "minor" : "major", worst[i].score.right,
               worst[i].score.beats);
}

/* Nearly all its notes begin on beats, so that nothing in its rhythm tells a dance from a hymn. */
static bool is_plain(const struct corpus_tune *t)
{
    static const double MOST_INSIDE = 0.15;
    double beat = us_metre_beat_quarters(t->tune.metre), inside = 0;
    for (size_t i = 0; i < t->tune.note_count; i++) {
        double beats = (t->tune.notes[i].at - t->tune.pickup) / beat;
        inside += fabs(beats - round(beats)) > 1e-3;
    }
    return inside <= MOST_INSIDE * (double)t->tune.note_count;
}

static void publish(const struct corpus_tune *t, enum sight sight, const struct score *score)
{
    char name[48], metre[16];
    const char *mode = t->key.mode == US_MODE_MINOR ? "minor" : "major";
    add(row_of(sight, t->style), score);
    snprintf(name, sizeof name, "%s %s", t->style, mode);
    add(row_of(sight, name), score);
    snprintf(name, sizeof name, "%s plain", t->style);
    if (is_plain(t)) add(row_of(sight, name), score);
    snprintf(name, sizeof name, "%s %s", t->style, us_metre_name(t->tune.metre, metre, sizeof metre));
    add(row_of(sight, name), score);
}

/* ---- how often chords change, by what was written and by what was found */
enum { STYLES = 2 };
static const char *const STYLE_NAMES[STYLES] = {"folk", "hymn"}, *const RATE_NAMES[US_RATES] = {"bar", "half",
                                                                                                "beat"};
static double rates[SIGHTS][STYLES][US_RATES][US_RATES];

static void mark_rate(const struct corpus_tune *t, enum sight sight, enum us_change found)
{
    struct us_harmony_lesson from = {&t->tune, t->key, 0};
    struct lesson lesson;
    if (found == US_CHANGE_AUTO) return;
    if (!lesson_init(&lesson, &from)) words_no_memory();
    rates[sight][corpus_is_hymn(t)][lesson_rate(&lesson) - US_CHANGE_BAR][found - US_CHANGE_BAR]++;
    lesson_finish(&lesson);
}

static void print_rates(enum sight sight)
{
    for (int style = 0; style < STYLES; style++) {
        double right = 0, all = 0;
        for (int i = 0; i < US_RATES; i++)
            for (int k = 0; k < US_RATES; k++) {
                all += rates[sight][style][i][k];
                right += i == k ? rates[sight][style][i][k] : 0;
            }
        if (all < 1) continue;
        printf("  %s: how often chords change is found in %.3f of %.0f tunes; written/found bar half beat\n",
               STYLE_NAMES[style], right / all, all);
        for (int i = 0; i < US_RATES; i++)
            printf("  %12s %6.0f %6.0f %6.0f\n", RATE_NAMES[i], rates[sight][style][i][0],
                   rates[sight][style][i][1], rates[sight][style][i][2]);
    }
}

static struct us_key found_key(struct us_harmony_request *request, void *workspace)
{
    enum { MOST = 4 };
    const struct us_tune *tune = request->tune;
    struct us_key_candidate candidates[MOST];
    int *pitches = words_room(tune->note_count, sizeof *pitches);
    for (size_t i = 0; i < tune->note_count; i++)
        pitches[i] = tune->notes[i].pitch;
    size_t count = us_keys_of_tune(pitches, tune->note_count, candidates, MOST);
    free(pitches);
    return us_harmony_key(request, candidates, count, workspace, NULL);
}

/* Tonic and mode found, of the tunes whose key is sure. */
static double keys_right[STYLES], keys_all[STYLES];

static void mark_key(const struct corpus_tune *t, struct us_key found)
{
    int style = corpus_is_hymn(t);
    bool minor = us_mode_has_minor_third((enum us_mode)found.mode);
    if (!t->key_sure) return;
    keys_all[style]++;
    keys_right[style] += found.tonic == t->key.tonic && minor == (t->key.mode == US_MODE_MINOR);
}

/* ---- whether the same melody has the same chords */
static struct returns returns[SIGHTS][STYLES];

static void mark_returns(const struct corpus_tune *t, enum sight sight, const struct us_harmony_view *view)
{
    enum us_role *written = words_room(view->beat_count, sizeof *written);
    for (size_t i = 0; i < view->beat_count; i++)
        written[i] = us_chord_role(written_at(t, view->beats[i].at), t->key);
    returns_count(&t->tune, view, written, &returns[sight][corpus_is_hymn(t)]);
    free(written);
}

static void print_returns(enum sight sight)
{
    for (int i = 0; i < STYLES; i++) {
        const struct returns *r = &returns[sight][i];
        if (r->beats > 0)
            printf("  %s: in bars that come back %.3f of %.0f beats have the same chord, %.3f as written\n",
                   STYLE_NAMES[i], r->said / r->beats, r->beats, r->written / r->beats);
    }
}

/* Without its repeats a tune is as long as a learner writes it down. */
static struct us_tune beginning_of(const struct us_tune *tune)
{
    enum { BARS = 16 };
    struct us_tune cut = *tune;
    double until = tune->pickup + BARS * us_metre_bar_quarters(tune->metre) - 1e-3;
    while (cut.note_count > 0 && cut.notes[cut.note_count - 1].at > until)
        cut.note_count--;
    return cut;
}

static void whole_tune(const struct corpus_tune *t, const struct us_harmony_tables *tables, enum sight sight)
{
    struct us_tune tune = sight == SIGHT_SIXTEEN ? beginning_of(&t->tune) : t->tune;
    struct us_harmony_request request = {.tables = tables,
                                         .tune = &tune,
                                         .key = t->key,
                                         .metre = t->tune.metre,
                                         .pickup = t->tune.pickup,
                                         .chords = sight == SIGHT_WIDE ? US_CHORDS_WIDE : US_CHORDS_PRIMARY,
                                         .change = US_CHANGE_AUTO,
                                         .ignore_tune_chords = true};
    size_t beats = us_harmony_beats(&request);
    void *workspace = words_room(1, us_harmony_workspace_size(&request));
    struct us_chord_choice *out = words_room(beats, sizeof *out);
    struct us_harmony_view view;
    struct score score = {0};
    struct before before = {US_ROLE_NONE, US_ROLE_NONE};
    if (sight == SIGHT_WHOLE_FOUND) mark_key(t, request.key = found_key(&request, workspace));
    us_harmony_tune(&request, workspace, out, beats, &view);
    for (size_t i = 0; i < view.beat_count; i++)
        mark(t, sight, &view.beats[i].position, view.beats[i].at, view.beats[i].chord, &before, &score);
    mark_rate(t, sight, view.change);
    mark_returns(t, sight, &view);
    publish(t, sight, &score);
    if (sight == SIGHT_WHOLE) keep_worst(t, &score);
    free(workspace);
    free(out);
}

static void live_once(struct us_harmony_live *h, const struct corpus_tune *t, enum sight sight, int up)
{
    struct us_harmony_request request = {.tune = &t->tune, .metre = t->tune.metre, .pickup = t->tune.pickup};
    struct us_grid grid;
    struct us_key key = {(int8_t)us_pitch_class(t->key.tonic + up), t->key.mode};
    struct lesson_hearing hearing = {.h = h, .tune = &t->tune, .grid = &grid, .key = key, .up = up};
    struct score score = {0};
    struct before before = {US_ROLE_NONE, US_ROLE_NONE};
    us_grid_make(&grid, &request);
    for (size_t i = 0; i < grid.count; i++) {
        struct us_position position;
        struct us_choice choice;
        us_grid_position(&grid, &request, i, &position);
        lesson_hear(&hearing, i, &position);
        us_harmony_live_decide(h, key, &position, &choice);
        struct us_chord answer = {(int8_t)us_pitch_class(choice.chord.root - up), choice.chord.kind};
        mark(t, sight, &position, us_grid_at(&grid, i), answer, &before, &score);
    }
    mark_rate(t, sight, (enum us_change)h->rate);
    publish(t, sight, &score);
}

static void live(const struct corpus_tune *t, const struct us_harmony_tables *tables)
{
    struct us_harmony_live *h = words_room(1, sizeof *h);
    us_harmony_live_init(h, tables, US_CHORDS_PRIMARY, US_CHANGE_AUTO);
    live_once(h, t, SIGHT_LIVE, 0);
    us_harmony_live_fresh(h);
    live_once(h, t, SIGHT_AGAIN, 0);
    us_harmony_live_fresh(h);
    live_once(h, t, SIGHT_OTHER_KEY, 5);
    free(h);
}

static void print_sight(enum sight sight)
{
    printf("%s\n", SIGHT_NAMES[sight]);
    for (size_t i = 0; i < row_count[sight]; i++) {
        const struct score *s = &rows[sight][i].score;
        printf(
            "  %-16s function %.3f  downbeats %.3f  root %.3f  beats %.0f  changes written %.3f said %.3f\n",
            rows[sight][i].name, s->right / s->beats, s->down_right / s->downs, s->root_right / s->roots,
            s->beats, s->written / s->pairs, s->said / s->pairs);
    }
    print_rates(sight);
    print_returns(sight);
    for (int i = 0; i < STYLES && sight == SIGHT_WHOLE_FOUND; i++)
        if (keys_all[i] > 0)
            printf("  %s: tonic and mode found in %.3f of %.0f tunes\n", STYLE_NAMES[i],
                   keys_right[i] / keys_all[i], keys_all[i]);
    printf("  written/said %6s %6s %6s\n", "I", "IV", "V");
    for (int r = US_ROLE_I; r < US_ROLES; r++)
        printf("  %12s %6.0f %6.0f %6.0f\n", us_role_name((enum us_role)r), confusion[sight][r][US_ROLE_I],
               confusion[sight][r][US_ROLE_IV], confusion[sight][r][US_ROLE_V]);
}

static void evaluate(const struct corpus *corpus, const struct us_harmony_tables *tables,
                     const bool folds[CORPUS_FOLDS])
{
    for (size_t i = 0; i < corpus->count; i++) {
        const struct corpus_tune *t = &corpus->tunes[i];
        if (!t->grid_sure || t->key.tonic == US_NO_KEY || !folds[t->fold]) continue;
        for (int sight = SIGHT_WHOLE_FOUND; sight <= SIGHT_WIDE; sight++)
            whole_tune(t, tables, (enum sight)sight);
        live(t, tables);
    }
    for (int sight = 0; sight < SIGHTS; sight++)
        print_sight((enum sight)sight);
    print_worst();
}

int main(int argc, char **argv)
{
    static const char NAME[] = "evaluate_harmony";
    static struct us_harmony_tables own;
    const char *folder, *path;
    bool folds[CORPUS_FOLDS] = {true, true, true, true, true};
    const struct word WORDS[] = {{"FOLDER", WORD_TEXT, .to = &folder},
                                 {"TABLES", WORD_TEXT, .to = &path},
                                 {"FOLDS", WORD_FOLDS, .optional = true, .to = folds}};
    struct corpus corpus;
    struct us_error error;
    int status = words_begin(NAME, WORDS, 3, argc, argv, &corpus);
    if (status) return status;
    bool built_in = strcmp(path, "-") == 0;
    status = built_in ? 0 : us_status_exit_code(us_harmony_tables_load(path, &own, &error));
    if (status)
        fprintf(stderr, "%s: %s\n", NAME, error.text);
    else
        evaluate(&corpus, built_in ? &us_harmony_built_in : &own, folds);
    corpus_finish(&corpus);
    return status;
}
