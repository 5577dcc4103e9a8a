#include "play_settings.h"

enum us_status play_companion_settings(const struct play_settings *play, struct us_companion_settings *out,
                                       struct us_error *error)
{
    (void)error;
    *out = (struct us_companion_settings){
        .texture = (enum us_texture)play->texture,
        .chords = (enum us_chords)play->chords,
        .change = (enum us_change)play->change,
        .key = play->key,
        .metre = play->metre,
        .pickup = play->pickup,
        .share = 100,
        .mark_beats = play->mark_beats,
    };
    return US_STATUS_OK;
}
