/* Patches: the sound of the melody and of the left hand and the settings that go with it, one INI file each.
   Allocates only where said; any one thread. */
#ifndef UNDERSONG_PATCH_H
#define UNDERSONG_PATCH_H

#include "undersong/event.h"
#include "undersong/harmony.h"
#include "undersong/status.h"
#include "undersong/texture.h"

/* How one voice sounds. */
struct us_patch_voice {
    uint8_t
        program;    /* General MIDI program, 0 to 127 (in files 1 to 128, as the General MIDI table counts) */
    int8_t octave;  /* moved by so many octaves, -2 to 2 */
    uint8_t level;  /* controller 7, 0 to 127 */
    int8_t pan;     /* -100 left to 100 right */
    uint8_t reverb; /* how much of it goes to the room, 0 to 100 */
};

struct us_patch {
    char id[40];     /* the file's name without .ini */
    char name[80];   /* in a teacher's words */
    char about[160]; /* what it is good for */
    char path[400];
    struct us_patch_voice voice[US_VOICES];
    uint8_t touch; /* how far the left hand follows the player's touch: 0 always alike, 100 in full */
    bool silent;   /* no sound of its own: MIDI outputs only */
    bool sets_texture, sets_change;
    enum us_texture texture; /* where sets_texture */
    enum us_change change;   /* where sets_change */
    int16_t split;           /* keys below this pitch are the learner's own left hand; 0: no split */
};

/* A piano, everything in the middle: what a patch file starts from. */
void us_patch_default(struct us_patch *patch);
/* Reads a patch file.  Unknown sections, unknown words and values out of range are errors that name file and
   line. */
enum us_status us_patch_read(const char *path, struct us_patch *patch, struct us_error *error) US_WARN_UNUSED;
/* Finds a patch by its name: a path (with a slash or ending in .ini), else NAME.ini in the user's folder
   ($XDG_CONFIG_HOME/undersong/patches, by default under ~/.config), then among those that came with the
   program: in the folder undersong-patches beside it, where it was built, else the installed ones. */
enum us_status us_patch_find(const char *name, struct us_patch *patch, struct us_error *error) US_WARN_UNUSED;
/* Every patch that us_patch_find() can find, sorted by id, into `*list`, to be freed; a user's patch hides
   the program's of the same id.  A file that cannot be read is listed with its error as `about` and an empty
   name. */
enum us_status us_patch_list(struct us_patch **list, size_t *count, struct us_error *error) US_WARN_UNUSED;

/* Velocity 1 to 127 of a note of `voice` struck at `velocity`, after the patch's touch.  Pure. */
uint8_t us_patch_velocity(const struct us_patch *patch, enum us_voice voice, uint8_t velocity);

#endif
