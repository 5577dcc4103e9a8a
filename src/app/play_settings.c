#include "play_settings.h"

#include <stdlib.h>
#include <string.h>

#include "undersong/transpose.h"

enum { TRANSPOSE_MOST = 24 };

static enum us_status read_voices(const struct play_settings *play, struct us_companion_settings *out,
                                  struct us_error *error)
{
    const char *bad;
    if (!us_second_parse(play->second_voice, &out->second_voice, &out->round_bars))
        return us_error_set(error, US_STATUS_BAD_INPUT,
                            "--second-voice %s: give none, third, sixth, round:1 to round:%d, or round:auto",
                            play->second_voice, US_ROUND_BARS_MAX);
    if (!us_share_parse(play->share, &out->share))
        return us_error_set(error, US_STATUS_BAD_INPUT, "--share %s: give 0 to 100, or auto", play->share);
    if (play->drill && strcmp(play->drill, "auto") != 0 && !us_drill_parse(play->drill, &out->drill, &bad))
        return us_error_set(error, US_STATUS_BAD_INPUT,
                            "--drill %s: \"%s\" is no list of keys; give up to %d such as C,D,Bb,Em, or auto",
                            play->drill, bad, US_DRILL_KEYS_MAX);
    return US_STATUS_OK;
}

static enum us_status read_transpose(const char *text, struct us_companion_settings *out,
                                     struct us_error *error)
{
    char *end;
    out->match_keyboard = strcmp(text, "auto") == 0;
    long semitones = out->match_keyboard ? 0 : strtol(text, &end, 10);
    if (!out->match_keyboard &&
        (end == text || *end || semitones < -TRANSPOSE_MOST || semitones > TRANSPOSE_MOST))
        return us_error_set(error, US_STATUS_BAD_INPUT,
                            "--keyboard-transpose %s: give half steps from -%d to %d, or auto", text,
                            TRANSPOSE_MOST, TRANSPOSE_MOST);
    out->sound_shift = (int)semitones;
    return US_STATUS_OK;
}

static enum us_status read_sounding_key(const struct play_settings *play, struct us_companion_settings *out,
                                        struct us_error *error)
{
    enum us_status status = read_transpose(play->keyboard_transpose, out, error);
    if (status || play->sound_in.tonic == US_NO_KEY) return status;
    if (out->sound_shift || out->match_keyboard)
        return us_error_set(error, US_STATUS_BAD_INPUT,
                            "--sound-in and --keyboard-transpose both move the sound; give one of them");
    struct us_key played = play->key;
    bool minor = play->sound_in.mode == US_MODE_MINOR;
    if (played.tonic == US_NO_KEY) played = (struct us_key){minor ? 9 : 0, play->sound_in.mode};
    bool played_minor = us_mode_has_minor_third((enum us_mode)played.mode);
    if (played_minor != us_mode_has_minor_third((enum us_mode)play->sound_in.mode))
        return us_error_set(error, US_STATUS_BAD_INPUT,
                            "--sound-in: a tune in a %s key sounds in a %s key; give one such as %s",
                            played_minor ? "minor" : "major", played_minor ? "minor" : "major",
                            played_minor ? "Em" : "G");
    out->sound_shift = us_transpose_between(played, play->sound_in);
    return US_STATUS_OK;
}

enum us_status play_companion_settings(const struct play_settings *play, struct us_companion_settings *out,
                                       struct us_error *error)
{
    *out = (struct us_companion_settings){
        .texture =
            play->texture == PLAY_TEXTURE_OPEN ? US_TEXTURE_BLOCK : (enum us_texture)(play->texture - 1),
        .chords = (enum us_chords)play->chords,
        .change = (enum us_change)play->change,
        .key = play->key,
        .metre = play->metre,
        .pickup = play->pickup,
        .left_hand_off = play->left_hand_off,
    };
    enum us_status status = read_voices(play, out, error);
    return status ? status : read_sounding_key(play, out, error);
}
