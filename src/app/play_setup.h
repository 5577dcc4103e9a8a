/* What every way of playing needs: the companion with its settings, and the tunes that it knows. */
#ifndef APP_PLAY_SETUP_H
#define APP_PLAY_SETUP_H

#include "known_tunes.h"
#include "play_settings.h"
#include "undersong/input.h"
#include "undersong/patch.h"

struct play_setup {
    struct us_patch patch;
    struct known_tunes tunes;
    struct us_companion_settings settings;
    struct us_harmony_tables *learned; /* the teacher's own; NULL where none are kept */
    struct us_companion *companion;
    char *tune_path; /* of the tune that is in `tunes`; NULL: a songbook or none */
};

/* Reads the patch and the tunes and makes the companion ready. */
enum us_status play_setup_init(struct play_setup *setup, const struct play_settings *play,
                               struct us_error *error) US_WARN_UNUSED;
/* Takes over what `before` has heard, with the settings of this one.  `before` is still to be finished. */
void play_setup_go_on(struct play_setup *setup, struct play_setup *before);
/* The channel listened to, and the keys and pedals that change something. */
enum us_status play_input_init(struct us_input *input, const struct play_settings *play,
                               struct us_error *error) US_WARN_UNUSED;
/* The tune that was named; NULL where none was. */
const struct us_tune *play_setup_tune(const struct play_setup *setup);
void play_setup_finish(struct play_setup *setup); /* also where init has failed; all zero is fine */

#endif
