/* What the window remembers: an INI file in the user's configuration folder (XDG Base Directory). */
#include "stand_parts.h"

#include <stddef.h>
#include <string.h>

static const char GROUP[] = "stand";

#define AT(field) offsetof(struct stand_choices, field)
static const struct {
    const char *name;
    size_t at, size;
    const char *fallback;
} TEXTS[] = {
    {"input", AT(input), sizeof((struct stand_choices *)0)->input, ""},
    {"output", AT(output), sizeof((struct stand_choices *)0)->output, ""},
    {"patch", AT(patch), sizeof((struct stand_choices *)0)->patch, STAND_PATCH},
    {"tune", AT(tune), sizeof((struct stand_choices *)0)->tune, ""},
    {"folder", AT(folder), sizeof((struct stand_choices *)0)->folder, ""},
    {"phrase", AT(phrase), sizeof((struct stand_choices *)0)->phrase, ""},
};
static const struct {
    const char *name;
    size_t at;
    int fallback, lowest, highest;
} NUMBERS[] = {
    {"left-hand", AT(texture), 0, 0, US_TEXTURES},
    {"chords", AT(chords), US_CHORDS_PRIMARY, 0, US_CHORDS_WIDE},
    {"change", AT(change), 0, 0, US_CHANGE_BEAT},
    {"second-voice", AT(second), 0, 0, US_SECOND_ROUND},
    {"share", AT(share), 0, 0, 5},
    {"pedal", AT(pedal), 0, 0, 4},
    {"drill", AT(drill), 0, 0, 6},
    {"sound-shift", AT(sound_shift), 0, -12, 12},
};
static const struct {
    const char *name;
    size_t at;
    bool fallback;
} FLAGS[] = {{"left-hand-on", AT(left_hand), true},
             {"sound", AT(sound), true},
             {"dark", AT(dark), false},
             {"controls", AT(controls_shown), true},
             {"more", AT(more_shown), false}};

static char *file_name(void)
{
    return g_build_filename(g_get_user_config_dir(), "undersong", "stand.ini", NULL);
}

void stand_choices_load(struct stand_choices *c)
{
    GKeyFile *file = g_key_file_new();
    char *path = file_name(), *base = (char *)c;
    g_key_file_load_from_file(file, path, G_KEY_FILE_NONE, NULL);
    memset(c, 0, sizeof *c);
    for (size_t i = 0; i < G_N_ELEMENTS(TEXTS); i++) {
        char *text = g_key_file_get_string(file, GROUP, TEXTS[i].name, NULL);
        g_strlcpy(base + TEXTS[i].at, text ? text : TEXTS[i].fallback, TEXTS[i].size);
        g_free(text);
    }
    for (size_t i = 0; i < G_N_ELEMENTS(NUMBERS); i++) {
        GError *error = NULL;
        int value = g_key_file_get_integer(file, GROUP, NUMBERS[i].name, &error);
        bool good = !error && value >= NUMBERS[i].lowest && value <= NUMBERS[i].highest;
        *(int *)(base + NUMBERS[i].at) = good ? value : NUMBERS[i].fallback;
        g_clear_error(&error);
    }
    for (size_t i = 0; i < G_N_ELEMENTS(FLAGS); i++) {
        GError *error = NULL;
        bool value = g_key_file_get_boolean(file, GROUP, FLAGS[i].name, &error);
        *(bool *)(base + FLAGS[i].at) = error ? FLAGS[i].fallback : value;
        g_clear_error(&error);
    }
    GError *error = NULL;
    c->volume = g_key_file_get_double(file, GROUP, "volume", &error);
    if (error || !(c->volume >= 0 && c->volume <= 1)) c->volume = 0.7;
    g_clear_error(&error);
    g_key_file_free(file);
    g_free(path);
}

void stand_choices_save(const struct stand_choices *c)
{
    GKeyFile *file = g_key_file_new();
    char *path = file_name(), *folder = g_path_get_dirname(path);
    const char *base = (const char *)c;
    for (size_t i = 0; i < G_N_ELEMENTS(TEXTS); i++)
        g_key_file_set_string(file, GROUP, TEXTS[i].name, base + TEXTS[i].at);
    for (size_t i = 0; i < G_N_ELEMENTS(NUMBERS); i++)
        g_key_file_set_integer(file, GROUP, NUMBERS[i].name, *(const int *)(base + NUMBERS[i].at));
    for (size_t i = 0; i < G_N_ELEMENTS(FLAGS); i++)
        g_key_file_set_boolean(file, GROUP, FLAGS[i].name, *(const bool *)(base + FLAGS[i].at));
    g_key_file_set_double(file, GROUP, "volume", c->volume);
    g_mkdir_with_parents(folder, 0700);
    char *text = g_key_file_to_data(file, NULL, NULL);
    /* Not remembering keeps nobody from playing. */
    g_file_set_contents_full(path, text, -1, G_FILE_SET_CONTENTS_CONSISTENT, 0600, NULL);
    g_free(text);
    g_key_file_free(file);
    g_free(folder);
    g_free(path);
}
