#include "play_setup.h"

#include <stdlib.h>
#include <string.h>

#include "learned.h"
#include "play_phrase.h"
#include "practice.h"

static enum us_status load_tunes(struct play_setup *s, const struct play_settings *play,
                                 struct us_error *error)
{
    enum us_status status = US_STATUS_OK;
    if (play->phrase && !play->tune)
        return us_error_set(error, US_STATUS_BAD_INPUT, "--phrase %.40s: of which tune? give --tune FILE too",
                            play->phrase);
    if (play->tune) {
        status = known_tunes_load_one(play->tune, s->settings.chords, s->settings.change, &s->tunes, error);
        if (!status) s->settings.tune = s->tunes.songs[0];
        if (!status && play->phrase)
            status = play_phrase(play->phrase, play->tune, s->tunes.tunes[0], &s->settings.loop, error);
        if (!status && !(s->tune_path = strdup(play->tune)))
            status = us_error_set(error, US_STATUS_NO_MEMORY, "out of memory");
    } else if (play->songbook) {
        status =
            known_tunes_load_folder(play->songbook, s->settings.chords, s->settings.change, &s->tunes, error);
        if (!status) s->settings.songbook = &s->tunes.book;
    }
    return status;
}

/* What the command line leaves open, the patch may settle. */
static void settle_by_patch(struct play_setup *s, const struct play_settings *play)
{
    if (play->texture == PLAY_TEXTURE_OPEN && s->patch.sets_texture) s->settings.texture = s->patch.texture;
    if (s->settings.change == US_CHANGE_AUTO && s->patch.sets_change) s->settings.change = s->patch.change;
}

const struct us_tune *play_setup_tune(const struct play_setup *s)
{
    return s->settings.tune ? &s->settings.tune->tune : NULL;
}

static void plan_drill(struct play_setup *s, const struct play_settings *play)
{
    struct practice practice;
    if (!play->drill || strcmp(play->drill, "auto") != 0) return;
    practice_read(play_setup_tune(s), &practice);
    practice_drill(&practice, &s->settings.drill);
}

enum us_status play_setup_init(struct play_setup *s, const struct play_settings *play, struct us_error *error)
{
    *s = (struct play_setup){0};
    enum us_status status = us_patch_find(play->patch, &s->patch, error);
    if (!status) status = play_companion_settings(play, &s->settings, error);
    if (!status && !play->built_in) status = learned_load(&s->learned, error);
    if (status) return status;
    s->settings.tables = s->learned;
    settle_by_patch(s, play);
    status = load_tunes(s, play, error);
    if (status) return status;
    plan_drill(s, play);
    s->companion = malloc(us_companion_size());
    if (!s->companion) return us_error_no_memory(error);
    us_companion_init(s->companion, &s->settings);
    return US_STATUS_OK;
}

/* The same tune with the same chords: the one that was followed goes on. */
static bool same_tune(const struct play_setup *a, const struct play_setup *b)
{
    return a->tune_path && b->tune_path && strcmp(a->tune_path, b->tune_path) == 0 &&
           a->settings.chords == b->settings.chords && a->settings.change == b->settings.change;
}

void play_setup_go_on(struct play_setup *s, struct play_setup *before)
{
    if (same_tune(s, before)) {
        struct known_tunes fresh = s->tunes;
        s->tunes = before->tunes;
        before->tunes = fresh;
        s->settings.tune = s->tunes.songs[0];
    }
    struct us_companion *unused = s->companion;
    s->companion = before->companion;
    before->companion = unused;
    us_companion_go_on(s->companion, &s->settings);
}

enum us_status play_input_init(struct us_input *input, const struct play_settings *play,
                               struct us_error *error)
{
    us_input_init(input);
    enum us_status status = us_input_channel(input, play->channel, error);
    if (!status && play->switch_key) status = us_input_switches(input, play->switch_key, error);
    return status;
}

void play_setup_finish(struct play_setup *s)
{
    known_tunes_finish(&s->tunes);
    free(s->companion);
    free(s->learned);
    free(s->tune_path);
    s->companion = NULL;
    s->tune_path = NULL;
    s->learned = NULL;
}
