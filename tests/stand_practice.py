#!/usr/bin/env python3
"""stand_practice.py PROGRAM DEMO-SONGS: practising in the window: a phrase round and round, the tune round the keys,
chosen by the computer's keyboard alone."""
import os, subprocess, sys, time
import mido
from on_screen import Stand, accessible, check, choose, do, remember, remembered, run, text, wait_for, walk

program, demo_songs = sys.argv[1:3]
PHRASE = (69, 74, 78, 83, 79, 76), (1, 2, 1, 2, 1, 5)  # the second line and its pickup, in D
ABC = """X:1
T:Two lines
M:3/4
L:1/4
K:D
A|d2f|a2f|e2A|d2A|
d2f|b2g|e3-|e2|]
"""


def song(path, times, up=0):
    track = mido.MidiTrack()
    for pitch, quarters in list(zip(*PHRASE)) * times:
        track.append(mido.Message("note_on", note=pitch + up, velocity=70, time=12))
        track.append(mido.Message("note_off", note=pitch + up, time=120 * quarters - 12))
    mido.MidiFile(tracks=[track], ticks_per_beat=480).save(path)


def rows(app):
    """What the open list offers."""
    return [n.get_name() for n in walk(app) if n.get_role_name() == "label" and n.get_name()]


def check_phrase_played(folder):
    """The times through are counted and told, as `play --phrase` does."""
    tune, played = os.path.join(folder, "lines.abc"), os.path.join(folder, "played.mid")
    with open(tune, "w") as f:
        f.write(ABC)
    song(played, 3)
    remember(folder, "phrase=2")
    stand = Stand(program, folder, "--from", played, "--tune", tune)
    check("the phrase is named", wait_for(lambda: '"phrase 2: bars 4 to 7"' in stand.dump()), text(stand.dump(), "text"))
    check("a time through is told", wait_for(lambda: '"time 1: clean; once more like that"' in stand.dump(), 10),
          text(stand.dump(), "text"))
    check("and the next", wait_for(lambda: '"time 2: clean again; now the whole tune"' in stand.dump(), 10),
          text(stand.dump(), "text"))
    stand.ends_well()
    check("the phrase is remembered", remembered(folder)["phrase"] == "2")


def check_phrase_chosen(folder):
    tune = os.path.join(demo_songs, "net-menders.abc")
    stand = Stand(program, folder, "--tune", tune)
    do("key", "alt+m")
    app = accessible(stand.process.pid)
    check("nothing is practised yet", "phrase" not in stand.dump())
    choose(app, "the part of the tune to practise", 2)
    check("the second phrase", wait_for(lambda: '"phrase 2: bars 4 to 8"' in stand.dump()), text(stand.dump(), "text"))
    check("the words are a teacher's", "phrase 2, bars 4 to 8" in rows(app), rows(app))
    choose(app, "the part of the tune to practise", 3)
    check("two phrases together", wait_for(lambda: '"phrases 1 to 2: pickup to bar 8"' in stand.dump()),
          text(stand.dump(), "text"))
    do("key", "alt+b")
    check("without a tune there is no phrase", wait_for(lambda: "phrase" not in stand.dump()))
    check("and the list says so", wait_for(lambda: "no tune is open" in rows(app)), rows(app))
    stand.ends_well()
    check("no phrase is remembered", remembered(folder)["phrase"] == "")


def check_drill(folder):
    stand = Stand(program, folder)
    do("key", "alt+m")
    app = accessible(stand.process.pid)
    choose(app, "keys round which the tune is led", 3)
    check("the sharp keys", wait_for(lambda: '"the tune in C major, then in G major"' in stand.dump()),
          text(stand.dump(), "text"))
    stand.play("zcbzcbzvbcvxz", 0.3)
    do("key", "F8")  # a change while playing leaves the drill where it is
    check("after the tune comes the next key",
          wait_for(lambda: '"the tune in G major, then in D major"' in stand.dump(), 20), text(stand.dump(), "text"))
    check("and it was well done", '"well done"' in stand.dump(), text(stand.dump(), "text"))
    choose(app, "the instruments", 1)  # another play behind the window
    check("the drill goes on", '"the tune in G major, then in D major"' in stand.dump(), text(stand.dump(), "text"))
    choose(app, "keys round which the tune is led", 2)
    check("fifth by fifth", wait_for(lambda: '"the tune in C major, then in G major"' in stand.dump()),
          text(stand.dump(), "text"))
    stand.ends_well()
    check("the drill is remembered", remembered(folder)["drill"] == "5")


def check_drill_anew(folder):
    """The keys that are needed most are found anew when they are chosen again: meanwhile something was played."""
    sessions = os.path.join(folder, "undersong", "sessions")
    os.makedirs(sessions)
    stand = Stand(program, folder)
    do("key", "alt+m")
    app = accessible(stand.process.pid)
    choose(app, "keys round which the tune is led", 1)
    check("nothing was played: it begins in C", wait_for(lambda: '"the tune in C major, then in ' in stand.dump()),
          text(stand.dump(), "text"))
    choose(app, "keys round which the tune is led", -1)
    subprocess.run([program, "play", "--from", os.path.join(demo_songs, "net-menders.mid"), "--to",
                    os.path.join(folder, "out.mid"), "--keep", os.path.join(sessions, "now.mid"), "--virtual-time",
                    "--quiet"], check=True)
    choose(app, "keys round which the tune is led", 1)
    check("then in another key", wait_for(lambda: "the tune in" in stand.dump()) and
          '"the tune in C major, then in ' not in stand.dump(), text(stand.dump(), "text"))
    stand.ends_well()


def check_minor_drill(folder):
    """In the mode of the open tune."""
    tune = os.path.join(folder, "minor.abc")
    with open(tune, "w") as f:
        f.write("X:1\nT:Minor\nM:4/4\nL:1/4\nK:Dm\nd f a f|g e d2|\n")
    remember(folder, "drill=2", "phrase=9")
    stand = Stand(program, folder, "--tune", tune)
    check("without signs and with one",
          wait_for(lambda: '"the tune in A minor, then in D minor"' in stand.dump()), text(stand.dump(), "text"))
    stand.end()


def check_vanished_tune(folder):
    """A tune whose file is gone (a stick that was pulled out) takes nothing else away: who plays is heard on."""
    tune, played = os.path.join(folder, "L\udcfccke.abc"), os.path.join(folder, "played.mid")  # a name in Latin-1
    with open(tune, "w") as f:
        f.write(ABC)
    song(played, 60)
    remember(folder, "more=true")
    stand = Stand(program, folder, "--from", played, "--tune", tune)
    app = accessible(stand.process.pid)
    check("it plays", wait_for(lambda: stand.marks("right"), 10))
    os.remove(tune)
    choose(app, "pedal or key for the next left hand", 1)  # another play behind the window
    check("what is gone is told, once", wait_for(lambda: "L?cke.abc" in told(stand)) and
          told(stand).count("cke.abc") == 1, told(stand))
    check("it plays on", wait_for(lambda: stand.marks("right"), 5), told(stand))
    stand.ends_well()


def check_vanished_output(folder):
    """Where MIDI was sent another day takes neither the window away, nor what the command line names."""
    played = os.path.join(folder, "played.mid")
    song(played, 20)
    remember(folder, "output=Old Synth")
    stand = Stand(program, folder, "--from", played)
    check("it is told", wait_for(lambda: "Old Synth is not there" in told(stand)) and "undersong" not in told(stand), told(stand))
    check("what is asked for plays", wait_for(lambda: stand.marks("right"), 10), told(stand))
    stand.ends_well()


def check_vanished_sound(folder):
    """Instruments of another day that are gone: said once, and what is heard instead is what the control shows."""
    remember(folder, "more=true", "patch=grandmother")
    stand = Stand(program, folder)
    app = accessible(stand.process.pid)
    check("it is told in the window's words", wait_for(lambda: "grandmother" in told(stand)) and "undersong" not in told(stand),
          told(stand))
    shown = [m.get_name() for n in walk(app) if n.get_name() == "the instruments" for m in walk(n)]
    check("the control shows the piano", any("piano" in words for words in shown), shown)
    check("which is remembered", wait_for(lambda: remembered(folder)["patch"] == "front-room-piano"))
    time.sleep(2.2)  # lines that come together are shown together
    do("key", "alt+b")  # another play behind the window
    check("and it is not told again", wait_for(lambda: "by ear" in told(stand)) and "grandmother" not in told(stand), told(stand))
    stand.ends_well()


def told(stand):
    return stand.dump().rpartition("message ")[2]


sys.exit(run(program, check_phrase_played, check_phrase_chosen, check_drill, check_drill_anew, check_minor_drill, check_vanished_tune,
             check_vanished_output, check_vanished_sound))
