#include "known_tunes.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "harmonized.h"
#include "inputs.h"

static void destroy(struct known_tune *tune)
{
    us_tune_file_finish(&tune->file);
    free(tune->chords);
    free(tune->phrases);
    free(tune);
}

/* The tune as the harmonizer sees it, kept for the score to look at. */
static enum us_status take(struct harmonized *h, struct known_tune *tune, struct us_error *error)
{
    tune->chords = calloc(h->count + 1, sizeof *tune->chords);
    tune->phrases = calloc(us_phrases_most(&h->file.tune, &h->explain.view), sizeof *tune->phrases);
    if (!tune->chords || !tune->phrases) return us_error_no_memory(error);
    tune->phrase_count = us_phrases_of_page(&h->file.tune, &h->explain.view, h->request.metre,
                                            h->request.pickup, tune->phrases);
    for (size_t i = 0; i < h->count; i++)
        tune->chords[i] =
            (struct us_chord_span){h->chords[i].at, h->chords[i].len, h->chords[i].choice.chord};
    struct us_tune seen = h->file.tune;
    seen.key = h->request.key;
    seen.metre = h->request.metre;
    seen.pickup = h->request.pickup;
    seen.chords = tune->chords;
    seen.chord_count = h->count;
    tune->file = h->file;
    memset(&h->file, 0, sizeof h->file);
    if (us_score_init(&tune->score, &seen)) return US_STATUS_OK;
    return us_error_set(error, US_STATUS_BAD_INPUT, "%s: fewer than two notes; give a tune to follow",
                        h->path);
}

static enum us_status add(struct known_tunes *tunes, const char *path, int number,
                          const struct harmonize_settings *settings, struct us_error *error)
{
    struct harmonized h;
    enum us_status status = harmonize_file(settings, NULL, path, number, &h, error);
    if (status) return status;
    struct known_tune *tune = calloc(1, sizeof *tune);
    struct known_tune **grown = realloc(tunes->tunes, (tunes->count + 1) * sizeof *grown);
    if (grown) tunes->tunes = grown;
    status = tune && grown ? take(&h, tune, error) : us_error_no_memory(error);
    harmonized_finish(&h);
    if (status && tune) destroy(tune);
    if (!status) tunes->tunes[tunes->count++] = tune;
    return status;
}

/* The scores in one array, as a songbook wants them; tunes do not move any more. */
static enum us_status bind(struct known_tunes *tunes, struct us_error *error)
{
    tunes->songs = calloc(tunes->count + 1, sizeof *tunes->songs);
    tunes->openings = calloc(tunes->count + 1, sizeof *tunes->openings);
    if (!tunes->songs || !tunes->openings) return us_error_no_memory(error);
    for (size_t i = 0; i < tunes->count; i++) {
        tunes->songs[i] = &tunes->tunes[i]->score;
        us_song_opening(&tunes->openings[i], tunes->songs[i]);
    }
    tunes->book = (struct us_songbook){tunes->songs, tunes->openings, tunes->count};
    return US_STATUS_OK;
}

static struct harmonize_settings harmonize_with(enum us_chords chords, enum us_change change)
{
    struct harmonize_settings s = {.chords = (int)chords, .change = (int)change, .pickup = -1};
    s.key.tonic = US_NO_KEY;
    return s;
}

enum us_status known_tunes_load_one(const char *path, enum us_chords chords, enum us_change change,
                                    struct known_tunes *out, struct us_error *error)
{
    memset(out, 0, sizeof *out);
    struct harmonize_settings settings = harmonize_with(chords, change);
    enum us_status status = add(out, path, 0, &settings, error);
    if (!status) status = bind(out, error);
    if (status) known_tunes_finish(out);
    return status;
}

static void say_left_out(const struct us_error *error)
{
    fprintf(stderr, "undersong: left out of the songbook: %s\n", error->text);
}

/* Tunes that cannot be read are told and left out; the others of the file stay.  False where there is no room
   for one. */
static bool add_file(struct known_tunes *tunes, const char *path, const struct harmonize_settings *settings)
{
    struct us_tune_entry *entries = NULL;
    size_t count = 0;
    struct us_error error;
    if (us_tune_list(path, &entries, &count, &error)) say_left_out(&error);
    bool room = true;
    for (size_t i = 0; i < count && room; i++) {
        room = tunes->count < US_SONGBOOK_MAX;
        if (room && add(tunes, path, entries[i].number, settings, &error)) say_left_out(&error);
    }
    free(entries);
    if (!room) {
        us_error_set(&error, US_STATUS_BAD_INPUT,
                     "%s: what comes after the first %d tunes; use a smaller book", path, US_SONGBOOK_MAX);
        say_left_out(&error);
    }
    return room;
}

enum us_status known_tunes_load_folder(const char *path, enum us_chords chords, enum us_change change,
                                       struct known_tunes *out, struct us_error *error)
{
    memset(out, 0, sizeof *out);
    if (access(path, R_OK))
        return us_error_set(error, US_STATUS_NOT_FOUND, "%s: %s; give a folder of tunes", path,
                            strerror(errno));
    struct text_list words = {.items = &path, .count = 1};
    struct inputs inputs;
    enum us_status status = inputs_collect(&words, &inputs, error);
    if (status) return status;
    struct harmonize_settings settings = harmonize_with(chords, change);
    for (size_t i = 0; i < inputs.count; i++)
        if (!add_file(out, inputs.paths[i], &settings)) break;
    inputs_finish(&inputs);
    if (!out->count)
        status = us_error_set(error, US_STATUS_BAD_INPUT,
                              "%s: no tune in it that can be followed; give a folder of tunes", path);
    if (!status) status = bind(out, error);
    if (status) known_tunes_finish(out);
    return status;
}

void known_tunes_finish(struct known_tunes *tunes)
{
    for (size_t i = 0; i < tunes->count; i++)
        destroy(tunes->tunes[i]);
    free(tunes->tunes);
    free(tunes->songs);
    free(tunes->openings);
    memset(tunes, 0, sizeof *tunes);
}
