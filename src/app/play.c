#include <stddef.h>
#include <stdio.h>
#include <string.h>

#include "commands.h"
#include "play_file.h"

static const char *const TEXTURES[] = {"block", "fifths", "root-run", "broken",
                                       "waltz", "drone",  "roots",    NULL};
static const char *const CHORDS[] = {"I", "primary", "wide", NULL};
static const char *const CHANGES[] = {"auto", "bar", "half", "beat", NULL};

#define AT(field) offsetof(struct play_settings, field)
static const struct option OPTIONS[] = {
    {.name = "from",
     .type = OPTION_TEXT,
     .offset = AT(from),
     .argument = "SOURCE",
     .help = "a MIDI input's name or a part of it, `keys` (the computer keyboard), FILE.mid or FILE.abc (a "
             "performer "
             "played from a file), or - (MIDI bytes on standard input); without it the first MIDI keyboard"},
    {.name = "to",
     .type = OPTION_LIST,
     .offset = AT(to),
     .argument = "SINK",
     .help = "where the music goes, may be repeated: `synth`, a MIDI output's name, FILE.mid, FILE.wav, or - "
             "(MIDI "
             "bytes on standard output); without it `synth`"},
    {.name = "virtual-time",
     .type = OPTION_FLAG,
     .offset = AT(virtual_time),
     .help = "with a file as source: do not wait, the clock is the file's"},
    {.name = "texture",
     .type = OPTION_CHOICE,
     .offset = AT(texture),
     .choices = TEXTURES,
     .fallback = "block",
     .help = "the left hand: full chords, open fifths, single roots with a run on V, ..."},
    {.name = "chords",
     .type = OPTION_CHOICE,
     .offset = AT(chords),
     .choices = CHORDS,
     .fallback = "primary",
     .help = "which chords are allowed: I alone; I, IV and V; or all of the key's"},
    {.name = "change",
     .type = OPTION_CHOICE,
     .offset = AT(change),
     .choices = CHANGES,
     .fallback = "auto",
     .help = "how often a chord may change"},
    {.name = "key",
     .type = OPTION_KEY,
     .offset = AT(key),
     .argument = "KEY",
     .allow_auto = true,
     .fallback = "auto",
     .help = "the key: G, Bb, Em, D dorian; auto listens for it"},
    {.name = "metre",
     .type = OPTION_METRE,
     .offset = AT(metre),
     .argument = "METRE",
     .allow_auto = true,
     .fallback = "auto",
     .help = "the metre: 3/4, 4/4, 6/8; auto listens for it"},
    {.name = "pickup",
     .type = OPTION_NUMBER,
     .offset = AT(pickup),
     .argument = "QUARTERS",
     .low = 0,
     .high = 16,
     .allow_auto = true,
     .fallback = "auto",
     .help = "quarter notes before the first bar line"},
    {.name = "tune",
     .type = OPTION_TEXT,
     .offset = AT(tune),
     .argument = "FILE",
     .help = "the tune that will be played, in any key: its own chords come, or the ones worked out for it"},
    {.name = "songbook",
     .type = OPTION_TEXT,
     .offset = AT(songbook),
     .argument = "DIR",
     .help = "a folder of tunes: the one that is played is recognized by its first notes and followed"},
    {.name = "second-voice",
     .type = OPTION_TEXT,
     .offset = AT(second_voice),
     .argument = "VOICE",
     .fallback = "none",
     .help = "a second voice: third or sixth (a duet below the melody), round:BARS (your own melody that "
             "many bars "
             "later), round:auto (finds where the tune goes with itself), none"},
    {.name = "share",
     .type = OPTION_TEXT,
     .offset = AT(share),
     .argument = "N",
     .fallback = "100",
     .help =
         "how much of the left hand stays with the program while you learn it: 100 all; from 99 it is silent "
         "where you play and says what fits; from 66 only roots; from 33 only roots of chords you have not "
         "got yet; 0 nothing; auto hands over as you succeed"},
    {.name = "drill",
     .type = OPTION_TEXT,
     .offset = AT(drill),
     .argument = "KEYS",
     .help = "lead the same tune round the keys, such as C,D,Bb, and say which comes next"},
    {.name = "sound-in",
     .type = OPTION_KEY,
     .offset = AT(sound_in),
     .argument = "KEY",
     .allow_auto = true,
     .fallback = "auto",
     .help = "hear it in this key while you play in the one of --key (without --key: in C, or A minor)"},
    {.name = "keyboard-transpose",
     .type = OPTION_TEXT,
     .offset = AT(keyboard_transpose),
     .argument = "N",
     .fallback = "0",
     .help =
         "semitones that the keyboard's transpose button adds to its own sound; auto: a note sounds, play "
         "the key that sounds the same twice"},
    {.name = "mark-beats",
     .type = OPTION_FLAG,
     .offset = AT(mark_beats),
     .help = "a MIDI file as sink also gets a text `bar` or `beat` at each beat as it was felt"},
    {.name = "quiet", .type = OPTION_FLAG, .offset = AT(quiet), .help = "print nothing while playing"},
};

static int run(const void *settings)
{
    const struct play_settings *play = settings;
    if (play->from && play_is_file(play->from)) return play_file(play);
    struct us_error error;
    us_error_set(&error, US_STATUS_NOT_FOUND, "--from %s: no such input; `undersong ports` lists them",
                 play->from ? play->from : "(none)");
    return report_error(&error);
}

const struct command command_play = {
    .name = "play",
    .summary = "follow a melody live and play a left hand under it",
    .options = OPTIONS,
    .option_count = sizeof OPTIONS / sizeof *OPTIONS,
    .settings_size = sizeof(struct play_settings),
    .run = run,
};
