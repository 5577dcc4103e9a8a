#include "harmonized.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "choices.h"
#include "undersong/follower.h"
#include "undersong/keyfinder.h"
#include "undersong/straighten.h"

char *degree_name(struct us_chord chord, struct us_key key, char *out, size_t size)
{
    us_chord_numeral(chord, key, out, size);
    char *to = out;
    for (const char *from = out; *from; from++)
        if (*from != '7') *to++ = *from;
    *to = 0;
    return out;
}

static bool same_letters(const char *a, const char *b)
{
    while (*a && *a == *b)
        a++, b++;
    return *a == *b;
}

bool degree_parse(const char *text, struct us_key key, struct us_chord *chord)
{
    static const char *const PRIMARY[] = {"I", "IV", "V"};
    static const char *const SMALL[] = {"i", "iv", "v"};
    char name[16];
    for (int root = 0; root < US_PITCH_CLASSES; root++)
        for (int kind = 0; kind < US_CHORD_KINDS; kind++) {
            *chord = (struct us_chord){(int8_t)root, (uint8_t)kind};
            if (same_letters(us_chord_numeral(*chord, key, name, sizeof name), text)) return true;
        }
    for (int r = 0; r < 3; r++)
        if (same_letters(PRIMARY[r], text) || same_letters(SMALL[r], text)) {
            *chord = us_chord_primary(key, (enum us_role)(US_ROLE_I + r));
            return true;
        }
    return us_chord_parse(text, chord);
}

/* The metre and pickup: given, else written, else found. */
static void find_metre(struct harmonized *h)
{
    const struct harmonize_settings *s = h->settings;
    const struct us_tune *tune = &h->file.tune;
    struct us_harmony_request *r = &h->request;
    r->metre = s->metre.top ? s->metre : tune->metre;
    r->pickup = tune->pickup > 0 ? tune->pickup : 0;
    bool pickup_known = tune->bar_count > 0 || tune->pickup > 0;
    if (!r->metre.top || (!pickup_known && s->pickup < 0)) {
        struct us_metre found;
        double pickup;
        us_metre_of_tune(tune->notes, tune->note_count, &found, &pickup);
        /* A pickup that was found for another metre than the known one means nothing. */
        bool same = us_metre_bar_quarters(found) == us_metre_bar_quarters(r->metre);
        if (!r->metre.top || same) r->pickup = pickup;
        if (!r->metre.top) r->metre = found;
    }
    if (s->pickup >= 0) r->pickup = s->pickup;
    r->pickup = fmod(r->pickup, us_metre_bar_quarters(r->metre)); /* whole bars are none of it */
}

static int *pitches_of(const struct us_tune *tune)
{
    int *pitches = malloc((tune->note_count + 1) * sizeof *pitches);
    for (size_t i = 0; pitches && i < tune->note_count; i++)
        pitches[i] = tune->notes[i].pitch;
    return pitches;
}

/* The changes of key that stand on the page. */
static void written_keys(struct harmonized *h)
{
    const struct us_tune *tune = &h->file.tune;
    struct us_key last = h->request.key;
    for (size_t i = 0; i < tune->bar_count && h->request.key_count < KEY_CHANGES_MAX; i++) {
        if (tune->bars[i].key.tonic == US_NO_KEY || us_key_equal(tune->bars[i].key, last)) continue;
        last = tune->bars[i].key;
        h->keys[h->request.key_count++] = (struct us_key_span){tune->bars[i].at, last};
    }
}

/* The changes of key that are heard; the harmony changes at a bar line. */
static void heard_keys(struct harmonized *h, const int *pitches)
{
    const struct us_tune *tune = &h->file.tune;
    struct us_key_change changes[KEY_CHANGES_MAX];
    size_t count = us_key_changes(pitches, tune->note_count, h->request.key, changes, KEY_CHANGES_MAX);
    double bar = us_metre_bar_quarters(h->request.metre);
    for (size_t i = 0; count > 1 && i < count; i++) {
        double at = tune->notes[changes[i].from].at - h->request.pickup;
        double line = h->request.pickup + round(at / bar) * bar;
        h->keys[h->request.key_count++] = (struct us_key_span){i ? line : 0, changes[i].key};
    }
}

enum { CANDIDATES_MAX = 4 };

static enum us_status hear_key(struct harmonized *h, const int *pitches, struct us_error *error)
{
    struct us_key_candidate candidates[CANDIDATES_MAX];
    size_t count = us_keys_of_tune(pitches, h->file.tune.note_count, candidates, CANDIDATES_MAX);
    void *workspace = malloc(us_harmony_workspace_size(&h->request) + 1);
    if (!workspace) return us_error_no_memory(error);
    h->request.key = us_harmony_key(&h->request, candidates, count, workspace, &h->key_sure);
    free(workspace);
    heard_keys(h, pitches);
    return US_STATUS_OK;
}

static enum us_status find_keys(struct harmonized *h, struct us_error *error)
{
    const struct us_tune *tune = &h->file.tune;
    int *pitches = pitches_of(tune);
    if (!pitches) return us_error_no_memory(error);
    enum us_status status = US_STATUS_OK;
    h->key_sure = 1;
    h->request.keys = h->keys;
    if (h->settings->key.tonic != US_NO_KEY) {
        h->request.key = h->settings->key;
    } else if (tune->key.tonic != US_NO_KEY) {
        h->request.key = tune->key;
        written_keys(h);
    } else {
        status = hear_key(h, pitches, error);
    }
    free(pitches);
    return status;
}

static enum us_status judge(struct harmonized *h, struct us_error *error)
{
    size_t beats = us_harmony_beats(&h->request);
    free(h->workspace);
    free(h->chords);
    h->workspace = malloc(us_harmony_workspace_size(&h->request) + 1);
    h->chords = malloc((beats + 1) * sizeof *h->chords);
    if (!h->workspace || !h->chords) return us_error_no_memory(error);
    h->count = us_harmony_tune(&h->request, h->workspace, h->chords, beats, &h->explain.view);
    h->explain.request = &h->request;
    h->explain.chords = h->chords;
    h->explain.count = h->count;
    return US_STATUS_OK;
}

static enum us_status voice(struct harmonized *h, struct us_error *error)
{
    enum us_texture texture = (enum us_texture)h->settings->texture;
    struct us_voicing_context context = {.lowest = US_LEFT_LOWEST, .highest = US_LEFT_HIGHEST};
    h->left = calloc(h->count + 1, sizeof *h->left);
    if (!h->left) return us_error_no_memory(error);
    for (size_t i = 0; i < h->count; i++) {
        const struct us_chord_choice *c = &h->chords[i];
        if (c->choice.chord.root == US_NO_CHORD) continue;
        context.key = us_explain_key(&h->explain, c->at);
        context.melody_before = context.melody;
        context.melody = us_tune_pitch_at(&h->file.tune, c->at);
        h->left[i] = us_texture_strike(texture, c->choice.chord, &context);
        context.before = us_texture_hand(texture, c->choice.chord, &context);
    }
    return US_STATUS_OK;
}

enum us_status harmonize_file(const struct harmonize_settings *settings,
                              const struct us_harmony_tables *tables, const char *path, int number,
                              struct harmonized *out, struct us_error *error)
{
    memset(out, 0, sizeof *out);
    enum us_status status = us_tune_load_number(path, number, &out->file, error);
    /* A page wants note values; JSON and MIDI keep to the file's own time. */
    if (!status && settings->format != FORMAT_JSON && settings->format != FORMAT_MIDI)
        status = us_tune_straighten(&out->file, error);
    if (status) {
        us_tune_file_finish(&out->file);
        return status;
    }
    out->path = path;
    out->settings = settings;
    out->explain.names = (enum us_step_names)settings->syllables;
    out->explain.simplified = settings->simplify;
    out->request.tables = tables;
    out->request.tune = &out->file.tune;
    out->request.chords = settings->simplify ? US_CHORDS_PRIMARY : (enum us_chords)settings->chords;
    out->request.change = (enum us_change)settings->change;
    out->request.ignore_tune_chords = settings->afresh || settings->simplify;
    find_metre(out);
    status = find_keys(out, error);
    if (!status && settings->simplify) status = fix_simplified(out, error);
    if (!status) status = judge(out, error);
    if (!status && settings->choose.count) {
        status = fix_chosen(out, error);
        if (!status) status = judge(out, error);
    }
    if (!status) status = voice(out, error);
    if (status) harmonized_finish(out);
    return status;
}

void harmonized_finish(struct harmonized *h)
{
    us_tune_file_finish(&h->file);
    free(h->fixed);
    free(h->workspace);
    free(h->chords);
    free(h->left);
    memset(h, 0, sizeof *h);
}
