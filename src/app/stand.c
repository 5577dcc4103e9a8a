#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>

#include "commands.h"
#include "drive.h"
#include "outputs.h"
#include "play_setup.h"
#include "stand.h"
#include "undersong/draw.h"

enum { PIXELS_MOST = 8000 };
static const char *const THEMES[] = {"auto", "light", "dark", NULL};
static const char *const SYLLABLES[] = {"la", "do", NULL};

#define AT(field) offsetof(struct stand_settings, field)
static const struct option OPTIONS[] = {
    {.name = "picture",
     .type = OPTION_TEXT,
     .offset = AT(picture),
     .argument = "FILE",
     .help = "open no window: write what the stand shows as FILE.png or FILE.svg"},
    {.name = "from",
     .type = OPTION_TEXT,
     .offset = AT(from),
     .argument = "SOURCE",
     .help = "where the player comes from: a MIDI input's name, or a file that is played, as with `play`; "
             "without it the first MIDI keyboard, and always the computer's keys and the mouse"},
    {.name = "to",
     .type = OPTION_LIST,
     .offset = AT(to),
     .argument = "SINK",
     .help = "where the music goes, as with `play`; without it what was last chosen in the window"},
    {.name = "tune",
     .type = OPTION_TEXT,
     .offset = AT(tune),
     .argument = "FILE",
     .help = "the tune that will be played, as with `play`"},
    {.name = "second-voice",
     .type = OPTION_TEXT,
     .offset = AT(second_voice),
     .argument = "NAME",
     .help = "with --picture: a second voice, as with `play`; in the window there is a control for it"},
    {.name = "built-in",
     .type = OPTION_FLAG,
     .offset = AT(built_in),
     .help = "pay no heed to what `harmonize --learn-from` has learned"},
    {.name = "audio",
     .type = OPTION_TEXT,
     .offset = AT(audio),
     .argument = "NAME",
     .help = "the sound output, as with `play`"},
    {.name = "full-screen",
     .type = OPTION_FLAG,
     .offset = AT(full_screen),
     .help = "begin with the whole screen (F11 changes it)"},
    {.name = "dump-scene",
     .type = OPTION_TEXT,
     .offset = AT(dump_scene),
     .argument = "FILE",
     .help = "write what the window shows as text, anew at each change"},
    {.name = "at",
     .type = OPTION_NUMBER,
     .offset = AT(seconds),
     .argument = "SECONDS",
     .low = 0,
     .high = 86400,
     .fallback = "10",
     .help = "with --picture: the moment of the picture"},
    {.name = "size",
     .type = OPTION_TEXT,
     .offset = AT(size),
     .argument = "WIDTHxHEIGHT",
     .fallback = "1280x720",
     .help = "the size of the picture or of the window in pixels"},
    {.name = "theme",
     .type = OPTION_CHOICE,
     .offset = AT(theme),
     .choices = THEMES,
     .fallback = "auto",
     .help = "light or dark paper; auto: as it was last chosen in the window"},
    {.name = "text-scale",
     .type = OPTION_NUMBER,
     .offset = AT(text_scale),
     .argument = "N",
     .low = 0.5,
     .high = 3,
     .fallback = "1",
     .help = "how much larger than usual the letters are"},
    {.name = "syllables",
     .type = OPTION_CHOICE,
     .offset = AT(syllables),
     .choices = SYLLABLES,
     .fallback = "la",
     .help = "the syllable of the tonic in minor"},
};

/* Plays until the moment asked for, and keeps what is seen then. */
struct moment {
    const struct us_companion *companion;
    struct us_snapshot *now;
    int64_t at_ns;
};

static bool before_the_moment(void *context, int64_t until_ns)
{
    return until_ns <= ((const struct moment *)context)->at_ns;
}

static void look(void *context, const struct us_event *event, const struct us_actions *actions)
{
    const struct moment *m = context;
    (void)actions;
    if (event->kind != US_EVENT_PANIC) us_companion_snapshot(m->companion, m->now);
}

/* The companion as `play` makes it, with the tune and the tables that were learned. */
static enum us_status ready(const struct stand_settings *s, struct play_setup *setup, struct us_error *error)
{
    struct play_settings play;
    bool help = false;
    enum us_status status = options_parse(&command_play, 0, NULL, &play, &help, error);
    if (status) return status;
    play.tune = s->tune;
    play.built_in = s->built_in;
    if (s->second_voice) play.second_voice = s->second_voice;
    return play_setup_init(setup, &play, error);
}

static enum us_status snapshot_at(const struct stand_settings *s, struct us_snapshot *now,
                                  struct us_error *error)
{
    struct play_setup setup = {.companion = NULL};
    struct performance performance = {0};
    enum us_status status = ready(s, &setup, error);
    if (!status && s->from) status = performance_load(s->from, NULL, &performance, error);
    if (!status) {
        us_companion_snapshot(setup.companion, now);
        struct moment moment = {setup.companion, now, (int64_t)(s->seconds * 1e9)};
        struct drive drive = {.companion = setup.companion,
                              .performance = &performance,
                              .context = &moment,
                              .wait = before_the_moment,
                              .after = look};
        drive_run(&drive);
    }
    performance_finish(&performance);
    play_setup_finish(&setup);
    return status;
}

/* Digits alone: no sign, no space.  Moves `*text` behind them. */
static bool read_pixels(const char **text, int least, int *pixels)
{
    if (**text < '0' || **text > '9') return false;
    long number = strtol(*text, (char **)text, 10); /* LONG_MAX where it is larger */
    *pixels = (int)number;
    return number >= least && number <= PIXELS_MOST;
}

static enum us_status read_size(struct stand_settings *s, struct us_error *error)
{
    const char *rest = s->size;
    bool good = read_pixels(&rest, 320, &s->width) && *rest++ == 'x' && read_pixels(&rest, 240, &s->height);
    if (good && !*rest) return US_STATUS_OK;
    return us_error_set(error, US_STATUS_BAD_INPUT, "--size %.40s: write WIDTHxHEIGHT, such as 1280x720",
                        s->size);
}

static enum us_status picture(const struct stand_settings *s, struct us_error *error)
{
    struct us_snapshot now;
    static struct us_scene scene;
    struct us_scene_request request = {.width = s->width,
                                       .height = s->height,
                                       .text_scale = s->text_scale,
                                       .show_ahead = true,
                                       .syllables = s->syllables ? US_SYLLABLES_DO : US_SYLLABLES_LA};
    enum us_status status = snapshot_at(s, &now, error);
    if (status) return status;
    us_scene_build(&now, &request, &scene);
    return us_draw_file(s->picture, &scene, s->theme == STAND_THEME_DARK ? US_THEME_DARK : US_THEME_LIGHT,
                        error);
}

static enum us_status check_files(const struct stand_settings *s, struct us_error *error)
{
    const char *const written[] = {s->picture, s->dump_scene};
    enum us_status status = outputs_spare_all(&s->to, s->from, s->tune, error);
    for (size_t i = 0; i < sizeof written / sizeof *written && !status; i++)
        if (written[i]) status = outputs_spare(written[i], s->from, s->tune, error);
    return status;
}

static int run(const void *settings)
{
    struct stand_settings s = *(const struct stand_settings *)settings;
    struct us_error error;
    enum us_status status = read_size(&s, &error);
    if (!status) status = check_files(&s, &error);
    if (!status && !s.picture) return stand_window(&s);
    if (!status) status = picture(&s, &error);
    return status ? report_error(&error) : 0;
}

const struct command command_stand = {
    .name = "stand",
    .summary = "the window for the music stand: keyboard, steps, chords, controls",
    .options = OPTIONS,
    .option_count = sizeof OPTIONS / sizeof *OPTIONS,
    .settings_size = sizeof(struct stand_settings),
    .run = run,
};
