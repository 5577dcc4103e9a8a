#include "manual_words.h"

#include <string.h>

static const struct example PLAY[] = {
    {"undersong play", "the first MIDI keyboard, the built-in sound"},
    {"undersong play --from keys --key C", "two rows of the computer keyboard, in C from the first note"},
    {"undersong play --texture root-run --metre 3/4 --pickup 1",
     "a waltz with an upbeat: single roots with a run"},
    {"undersong play --tune song.abc --share 50", "a known tune; half of the left hand is the learner's"},
    {"undersong play --from take.mid --to answer.mid --virtual-time", "a file's answer as a file, at once"},
};
static const struct example HARMONIZE[] = {
    {"undersong harmonize song.abc", "the chords bar by bar, with the reasons"},
    {"undersong harmonize --choose 3.1=IV song.abc", "bar 3, beat 1 is settled, and the rest adapts"},
    {"undersong harmonize --simplify --to easy.musicxml song.abc",
     "the written chords as I, IV and V, for a notation program"},
};
static const struct example SHEET[] = {
    {"undersong sheet song.abc", "to read on the terminal, or aloud"},
    {"undersong sheet --keys C,F,Bb --fingering --to song.pdf song.abc",
     "three keys for three students, on paper"},
    {"undersong sheet --large --texture fifths --under syllables --to song.pdf song.abc",
     "large, open fifths, do re mi"},
};
static const struct example REVIEW[] = {
    {"undersong review", "the last kept session; the tune is found from its repeats"},
    {"undersong review --tune song.abc", "held against the tune that was practised"},
    {"undersong review --tune song.abc --to week.png week.mid", "every time through as a picture"},
};
static const struct example PORTS[] = {
    {"undersong ports", "what is connected, by name"},
    {"undersong ports --patches", "sounds and settings for `play --patch`"},
};
static const struct example STAND[] = {
    {"undersong stand", "the window; Z to M and Q to U play"},
    {"undersong stand --tune song.abc --full-screen", "a known tune over the whole screen"},
    {"undersong stand --from take.mid --at 8 --picture stand.png",
     "no window: a picture of the eighth second"},
};

static const struct manual_words WORDS[] = {
    {"play",
     "Listens to a melody on a MIDI keyboard, finds its key, beat and chords, and plays a left hand under it "
     "as it goes.  "
     "It waits where the player hesitates and follows into another key.  On a terminal the space bar takes "
     "the next left "
     "hand, tab locks the key, return takes the left hand away and gives it back, escape silences "
     "everything, and ctrl-c "
     "ends.  What a player plays is kept as a MIDI file, the last fifty, unless --keep says otherwise.",
     EXAMPLES(PLAY)},
    {"harmonize",
     "Reads tunes (ABC, MIDI, MusicXML; files or whole folders) and works out their chords, with the reason "
     "for each and "
     "what else would do.  Chords that are written in a tune are kept, unless --afresh or --simplify says "
     "otherwise.",
     EXAMPLES(HARMONIZE)},
    {"sheet",
     "Writes a tune out for a lesson: the melody with its steps, the chords, a left hand, fingering, in one "
     "key or several.  "
     "Pages (pdf, png) are made by LilyPond, where that is installed.",
     EXAMPLES(SHEET)},
    {"review",
     "Lays what was played along the tune and tells, time through by time through and bar by bar, what was "
     "wrong, left out "
     "or waited for, and what to practise next.  Without a file it takes the sessions that `play` and "
     "`stand` have kept.",
     EXAMPLES(REVIEW)},
    {"ports",
     "Lists the MIDI inputs and outputs and the sound outputs that are there, by the names that `play "
     "--from`, `--to` and "
     "`--audio` take.",
     EXAMPLES(PORTS)},
    {"stand",
     "The window for the music stand: what the left hand plays now, the step under the right hand, the tune "
     "as it is played, "
     "and the keys, which the computer's keyboard and the mouse play too.  F11 fills the screen, F9 hides "
     "the controls, F8 takes the next left hand, Page Up and Page Down move the computer's keys by an "
     "octave, "
     "escape silences everything.",
     EXAMPLES(STAND)},
};

const struct manual_words *manual_words_of(const char *command)
{
    for (size_t i = 0; i < sizeof WORDS / sizeof *WORDS; i++)
        if (strcmp(WORDS[i].command, command) == 0) return &WORDS[i];
    return NULL;
}
