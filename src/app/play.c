#include <stddef.h>
#include <stdio.h>
#include <string.h>

#include "commands.h"
#include "outputs.h"
#include "play_file.h"
#include "play_live.h"
#include "shared_rows.h"
#include "target.h"

#define AT(field) offsetof(struct play_settings, field)
static const struct option OPTIONS[] = {
    {.name = "from",
     .type = OPTION_TEXT,
     .offset = AT(from),
     .argument = "SOURCE",
     .help = "a MIDI input's name or a part of it, `keys` (the computer keyboard), FILE.mid or FILE.abc (a "
             "performer played from a file), or - (MIDI bytes on standard input); without it the first MIDI "
             "keyboard"},
    {.name = "to",
     .type = OPTION_LIST,
     .offset = AT(to),
     .argument = "SINK",
     .help = "where the music goes, may be repeated: `synth`, a MIDI output's name, FILE.mid, FILE.wav, or - "
             "(MIDI bytes on standard output); without it `synth`"},
    {.name = "virtual-time",
     .type = OPTION_FLAG,
     .offset = AT(virtual_time),
     .help = "with a file as source: do not wait, the clock is the file's"},
    {.name = "texture",
     .type = OPTION_CHOICE,
     .offset = AT(texture),
     .choices = names_of_texture_or_auto,
     .fallback = "auto",
     .help =
         "the left hand: auto takes the patch's own; block: full chords; fifths: open fifths; root-run: "
         "roots, and a run on V; broken: broken chords; waltz: root and chords; drone: one bass that stays; "
         "roots: single roots"},
    CHORDS_ROW(AT(chords)),
    CHANGE_ROW(AT(change)),
    KEY_ROW(AT(key), FROM_THE_PLAYER),
    METRE_ROW(AT(metre), FROM_THE_PLAYER),
    PICKUP_ROW(AT(pickup)),
    {.name = "tune",
     .type = OPTION_TEXT,
     .offset = AT(tune),
     .argument = "FILE",
     .help = "the tune that will be played, in any key: its own chords come, or the ones worked out for it"},
    {.name = "songbook",
     .type = OPTION_TEXT,
     .offset = AT(songbook),
     .argument = "FOLDER",
     .help = "a folder of tunes: the one that is played is recognized by its first notes and followed"},
    {.name = "phrase",
     .type = OPTION_TEXT,
     .offset = AT(phrase),
     .argument = "N-M",
     .help = "with --tune: practise these phrases round and round, such as 2 or 2-3; the left hand goes back "
             "with you, and each time through is counted and told; a phrase is a line of the page"},
    {.name = "second-voice",
     .type = OPTION_TEXT,
     .offset = AT(second_voice),
     .argument = "VOICE",
     .fallback = "none",
     .help = "a second voice: third or sixth (a duet below the melody), round:BARS (your own melody that "
             "many bars later), round:auto (finds where the tune goes with itself), none"},
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
     .help = "lead the same tune round the keys, such as C,D,Bb, and say which comes next; auto takes the "
             "keys that "
             "your kept sessions call for, beginning with the least safe"},
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
         "half steps that the keyboard's transpose button adds to its own sound; auto: a note sounds, play "
         "the key that sounds the same twice"},
    {.name = "patch",
     .type = OPTION_TEXT,
     .offset = AT(patch),
     .argument = "NAME",
     .fallback = "front-room-piano",
     .help = "the sounds of the melody and of the left hand, and the settings that go with them; `undersong "
             "ports --patches` lists them"},
    {.name = "audio",
     .type = OPTION_TEXT,
     .offset = AT(audio),
     .argument = "NAME",
     .fallback = "auto",
     .help = "the sound output: auto, jack, pulse, alsa, dummy, or a part of a device's name"},
    {.name = "sound-font",
     .type = OPTION_TEXT,
     .offset = AT(sound_font),
     .argument = "FILE",
     .help = "a General MIDI sound font in place of the system's"},
    {.name = "level",
     .type = OPTION_NUMBER,
     .offset = AT(level),
     .argument = "FACTOR",
     .low = 0,
     .high = 2,
     .fallback = "1",
     .help = "how loud the built-in sound is; 1 is normal"},
    {.name = "channel",
     .type = OPTION_TEXT,
     .offset = AT(channel),
     .argument = "N",
     .fallback = "auto",
     .help = "listen to this MIDI channel only, 1 to 16; auto listens to all"},
    {.name = "switch-key",
     .type = OPTION_TEXT,
     .offset = AT(switch_key),
     .argument = "KEY=WHAT",
     .help =
         "a key or pedal that changes something instead of sounding, as in cc67=texture or A0=lock,C8=panic; "
         "WHAT is texture, lock, left, tap or panic"},
    {.name = "clock",
     .type = OPTION_FLAG,
     .offset = AT(clock),
     .help = "send a MIDI clock to the MIDI outputs, so that a rhythm box follows the player"},
    {.name = "keep",
     .type = OPTION_TEXT,
     .offset = AT(keep),
     .argument = "FILE",
     .help = "keep what is played as a MIDI file that is valid at every moment; without it live playing is "
             "kept in your data folder; `no` keeps nothing"},
    {.name = "built-in",
     .type = OPTION_FLAG,
     .offset = AT(built_in),
     .help = "pay no heed to what `harmonize --learn-from` has learned"},
    {.name = "mark-beats",
     .type = OPTION_FLAG,
     .offset = AT(mark_beats),
     .help = "a MIDI file as sink also gets a text `bar` or `beat` at each beat as it was felt"},
    {.name = "quiet", .type = OPTION_FLAG, .offset = AT(quiet), .help = "print nothing while playing"},
};

static enum us_status check_keep(const struct play_settings *play, const char *from, struct us_error *error)
{
    const char *keep = play->keep;
    if (!keep || strcmp(keep, "no") == 0) return US_STATUS_OK;
    if (strcmp(keep, "-") == 0 || ends_with(keep, ".wav"))
        return us_error_set(error, US_STATUS_BAD_INPUT,
                            "--keep %.100s: what is kept is a MIDI file; give FILE.mid, or no", keep);
    for (size_t i = 0; i < play->to.count; i++)
        if (target_same(keep, play->to.items[i]))
            return us_error_set(error, US_STATUS_BAD_INPUT,
                                "--keep %.200s: --to writes that file already; give another name", keep);
    return outputs_spare(keep, from, play->tune, error);
}

static enum us_status check_files(const struct play_settings *play, struct us_error *error)
{
    const char *from = play->from && play_is_file(play->from) ? play->from : NULL;
    enum us_status status = check_keep(play, from, error);
    return status ? status : outputs_spare_all(&play->to, from, play->tune, error);
}

static enum us_status check_pairs(const struct play_settings *play, struct us_error *error)
{
    if (play->tune && play->songbook)
        return us_error_set(error, US_STATUS_BAD_INPUT,
                            "--tune and --songbook both say what will be played; give one of them");
    if (play->drill && play->key.tonic != US_NO_KEY)
        return us_error_set(error, US_STATUS_BAD_INPUT,
                            "--drill leads round several keys, and --key holds one; leave --key out");
    if (play->virtual_time && !(play->from && play_is_file(play->from)))
        return us_error_set(error, US_STATUS_BAD_INPUT,
                            "--virtual-time: needs a file as source; give --from FILE.mid");
    return US_STATUS_OK;
}

static int run(const void *settings)
{
    const struct play_settings *play = settings;
    struct us_error error;
    if (check_pairs(play, &error) || check_files(play, &error)) return report_error(&error);
    return play->virtual_time ? play_file(play) : play_live(play);
}

const struct command command_play = {
    .name = "play",
    .summary = "follow a melody live and play a left hand under it",
    .options = OPTIONS,
    .option_count = sizeof OPTIONS / sizeof *OPTIONS,
    .settings_size = sizeof(struct play_settings),
    .run = run,
};
