#!/usr/bin/env python3
"""stand_window.py PROGRAM DEMO-SONGS: the real window on a screen of its own (Xvfb), played by a file, by keys and
mouse (xdotool), and asked through the accessibility bus (AT-SPI).  What it shows is read from scene dumps."""
import os, re, subprocess, sys, time
import mido
from on_screen import (CONTROLS, KEYBOARD, Stand, accessible, check, choose, do, inside, key_middle, remember, remembered, run,
                       settled, tab_to, text, wait_for, walk)

program, demo_songs = sys.argv[1:3]
ROOT = "1"  # PointerRoot, as X11's X.h has it: no window of ours


def chord_shown(dump):
    """The large numeral in the left hand's panel."""
    large = [(float(size), words) for size, words in text(dump, "left")]
    return max(large)[1] if large and max(large)[0] > 40 else None


def markers(path):
    return [m.text for m in mido.merge_tracks(mido.MidiFile(path).tracks) if m.type == "marker"]


def distinct(items):
    return [x for i, x in enumerate(items) if i == 0 or items[i - 1] != x]


def check_demo(folder):
    """The window follows the performance as `play` does in virtual time: the same chords in the same order."""
    song = os.path.join(folder, "short.mid")
    track = mido.MidiTrack()
    for pitch in (60, 64, 67, 64, 65, 69, 67, 64, 62, 65, 62, 59, 60, 64, 60):
        track.append(mido.Message("note_on", note=pitch, velocity=80, time=20))
        track.append(mido.Message("note_off", note=pitch, time=300))
    mido.MidiFile(tracks=[track], ticks_per_beat=480).save(song)
    subprocess.run([program, "play", "--from", song, "--to", os.path.join(folder, "out.mid"), "--virtual-time",
                    "--quiet"], check=True)
    expected = distinct(markers(os.path.join(folder, "out.mid")))
    stand = Stand(program, folder, "--from", song)
    seen, hands = [], set()
    until = time.time() + 30
    while time.time() < until and stand.process.poll() is None:
        dump = stand.dump()
        if distinct(seen) == expected:
            until = min(until, time.time() + 2)  # nothing more may come
        shown = chord_shown(dump)
        if shown:
            seen.append(shown)
        hands |= {m[0] for m in KEYBOARD.findall(dump)}
        time.sleep(0.02)
    check("the chords in the window are those of `play`", distinct(seen) == expected, (distinct(seen), expected))
    check("more than one chord", len(set(expected)) > 1, expected)
    check("both hands' keys were shown", {"right", "left"} <= hands, hands)
    stand.ends_well()


def check_as_suggested(folder):
    """Chosen while many notes are heard: the choice stays, though the picture of the moment is still of the one before."""
    song, track = os.path.join(folder, "many.mid"), mido.MidiTrack()
    for i in range(4000):
        track += [mido.Message("note_on", note=60 + 7 * i % 12, velocity=80, time=6),
                  mido.Message("note_off", note=60 + 7 * i % 12, time=6)]
    mido.MidiFile(tracks=[track], ticks_per_beat=480).save(song)
    remember(folder, "left-hand=3")
    stand = Stand(program, folder, "--from", song)
    app = accessible(stand.process.pid)
    check("the file is heard", wait_for(lambda: stand.marks("right"), 20))
    for row in (0, 3, 0, 3, 0, 3, 0):
        choose(app, "how the left hand plays", -3 if row == 0 else 3)
        time.sleep(0.7)  # remembered twice a second
        check("it is remembered", remembered(folder)["left-hand"] == str(row), (remembered(folder)["left-hand"], row))
    check("it plays on", wait_for(lambda: stand.marks("right")))
    stand.ends_well()


def check_file_going_on(folder):
    """Another choice in mid-play is a new play behind the window: a file that plays goes on from where it was."""
    song, out = os.path.join(folder, "long.mid"), os.path.join(folder, "went-on.mid")
    track, tune = mido.MidiTrack(), [60 + (7 * i) % 12 for i in range(60)]
    for pitch in tune:
        track.append(mido.Message("note_on", note=pitch, velocity=80, time=20))
        track.append(mido.Message("note_off", note=pitch, time=140))
    mido.MidiFile(tracks=[track], ticks_per_beat=480).save(song)
    stand = Stand(program, folder, "--from", song, "--to", out)
    check("the file is heard", wait_for(lambda: stand.marks("right"), 20))
    for moment in range(8):
        do("key", "alt+b")
        time.sleep(0.83)
    last, until = time.time(), time.time() + 40
    while time.time() < min(last + 3, until):  # the tune is over when no key has been down for so long
        last = time.time() if stand.marks("right") else last
        time.sleep(0.02)
    stand.ends_well()
    check("no note is lost or comes twice", melody(out) == tune, melody(out))


def melody(path):
    return [m.note for m in mido.merge_tracks(mido.MidiFile(path).tracks) if m.type == "note_on" and m.velocity and m.channel == 0]


def check_hands(folder):
    stand = Stand(program, folder)
    check("a first picture", stand.shown)
    print("first picture after %.2f s" % stand.first_picture)
    dump = stand.dump()
    c4, e4, c5 = (key_middle(dump, p) for p in (60, 64, 72))
    do("keydown", "z")
    check("z is middle C", wait_for(lambda: [m for m in stand.marks("right") if inside(m, c4)]), stand.marks("right"))
    do("keydown", "q")
    check("two keys at once", wait_for(lambda: len(stand.marks("right")) == 2), stand.marks("right"))
    time.sleep(0.8)  # the system repeats a held key after less than that
    check("a held key is held", len(stand.marks("right")) == 2, stand.marks("right"))
    do("keyup", "z")
    check("a key that comes up ends its note",
          wait_for(lambda: [inside(m, c5) for m in stand.marks("right")] == [True]), stand.marks("right"))
    do("keyup", "q")
    check("no key is down", wait_for(lambda: not stand.marks("right")), stand.marks("right"))
    do("keydown", "z", "keydown", "q")
    check("two keys", wait_for(lambda: len(stand.marks("right")) == 2), stand.marks("right"))
    do("mousemove", "1900", "1060", "windowfocus", ROOT)  # off the window: keys that repeat go to what the pointer is on
    check("where another window has the keys, none is held", wait_for(lambda: not stand.marks("right")), stand.marks("right"))
    do("keyup", "z", "keyup", "q", "windowfocus", stand.window)
    do("mousemove", str(e4[0]), str(e4[1]), "mousedown", "1")
    check("the mouse plays E", wait_for(lambda: [m for m in stand.marks("right") if inside(m, e4)]), stand.marks("right"))
    do("mousemove", str(c4[0]), str(c4[1]))
    check("the mouse slides to C", wait_for(lambda: [inside(m, c4) for m in stand.marks("right")] == [True]),
          stand.marks("right"))
    do("mouseup", "1")
    check("and lets go", wait_for(lambda: not stand.marks("right")), stand.marks("right"))
    check_controls(stand)
    stand.ends_well()


def check_controls(stand):
    """By the computer's keyboard alone."""
    do("key", "Tab")
    do("key", "space")
    check("the first stop is the left hand's switch", wait_for(lambda: "left hand off" in stand.dump()))
    time.sleep(0.4)  # a switch that still slides does not heed a second key
    do("key", "space")
    check("and on again", wait_for(lambda: "left hand off" not in stand.dump()))
    before = stand.height()
    do("key", "F9")
    check("F9 gives the picture the whole window", wait_for(lambda: stand.height() > before + 20), stand.height())
    do("key", "F9")
    check("and the controls come back", wait_for(lambda: stand.height() == before), stand.height())
    do("key", "alt+m")
    check("more controls", wait_for(lambda: stand.height() < before - 20), stand.height())
    do("key", "alt+d")
    check_names(stand.process.pid)


def check_names(pid):
    """Every control that can be used has a name, in the accessibility tree (AT-SPI 2)."""
    controls = [n for n in walk(accessible(pid)) if n.get_role_name() in CONTROLS]
    names = [n.get_name() or "" for n in controls]

    def named(node):
        parent = node.get_parent()
        return node.get_name() or (parent is not None and parent.get_role_name() == "combo box" and parent.get_name())

    nameless = [n.get_role_name() for n in controls if not named(n) or "_" in n.get_name() or
                n.get_name().startswith("Gtk")]
    check("every control has a name", not nameless, nameless)
    for wanted in ("left hand on", "how the left hand plays", "how often chords change", "which chords are allowed",
                   "sound on", "how loud", "the keyboard you play on", "where MIDI is sent", "Keep this key",
                   "the key in which it is heard", "second voice below the tune", "All notes off", "Review"):
        check("a control named " + wanted, wanted in names, names)


def check_going_on(folder):
    """Another tune, sound or input is a new session behind the window: what was heard goes on."""
    stand = Stand(program, folder)
    c4 = key_middle(stand.dump(), 60)
    stand.play("zbmbvnmbx", 0.3)
    do("keydown", "z")
    check("the last note is heard", wait_for(lambda: [m for m in stand.marks("right") if inside(m, c4)]), stand.marks("right"))
    do("keyup", "z")
    do("key", "Escape")  # all notes off: the page comes to rest, which moves on with the bars while a tune is played
    do("key", "alt+k")
    check("the key is held", wait_for(lambda: "(held)" in stand.dump()), text(stand.dump(), "text"))
    before, height = settled(stand.dump), stand.height()
    do("key", "alt+b")
    check("by ear is told", wait_for(lambda: "by ear" in message(stand)), message(stand))
    do("key", "F9")  # the picture is drawn anew
    check("drawn anew", wait_for(lambda: stand.height() > height + 20), stand.height())
    after = settled(stand.dump)
    check("the key stays, and its lock", text(after, "text")[:1] and "(held)" in text(after, "text")[0][1], after)
    heads, later = (len(re.findall(r"^oval right solid", seen, re.M)) for seen in (before, after))
    check("the page stays", later == heads >= 8, (heads, later))
    stand.play("zb", 0.3)
    kept = os.listdir(os.path.join(folder, "undersong", "sessions"))
    check("one evening is one file", len(kept) == 1, kept)
    stand.ends_well()
    notes = [m for m in mido.MidiFile(os.path.join(folder, "undersong", "sessions", kept[0])) if m.type == "note_on"
             and m.channel == 0 and m.velocity]
    check("with all the notes", len(notes) == 12, len(notes))


def message(stand):
    app = accessible(stand.process.pid)
    return " ".join(n.get_name() or "" for n in walk(app) if n.get_role_name() == "label") if app else "by ear"


def check_memory_of_choices(folder):
    ini = os.path.join(folder, "undersong", "stand.ini")
    stand = Stand(program, folder)
    do("key", "alt+m")
    do("key", "alt+d")
    check("it is remembered at once, whatever becomes of the program",
          wait_for(lambda: os.path.exists(ini) and remembered(folder)["dark"] == "true"))
    stand.process.kill()
    stand.process.wait()
    check("the choices are the player's own", os.stat(ini).st_mode & 0o777 == 0o600)
    stand = Stand(program, folder)
    stand.ends_well()
    check("dark paper is remembered", remembered(folder)["dark"] == "true")
    stand = Stand(program, folder, "--theme", "light")
    stand.ends_well()
    check("the last choice wins", remembered(folder)["dark"] == "false")


def check_memory_of_hands(folder):
    """The key in which it is heard, and a left hand that is off, are there again the next day, in the picture and in the
    sound."""
    def kept(*names):
        return [remembered(folder)[name] for name in names]

    stand = Stand(program, folder)
    app = accessible(stand.process.pid)
    do("key", "alt+m")
    tab_to(app, "left hand on")
    do("key", "space")
    check("the left hand is off", wait_for(lambda: "left hand off" in stand.dump()))
    choose(app, "the key in which it is heard", 3)
    check("in D, two half steps from C", wait_for(lambda: "2 half steps higher" in stand.dump()), text(stand.dump(), "text"))
    check("both are remembered", wait_for(lambda: kept("sound-shift", "left-hand-on") == ["2", "false"]), kept("sound-shift"))
    stand.end()
    out = os.path.join(folder, "another-day.mid")
    stand = Stand(program, folder, "--to", out)
    check("another day it is heard in D", "2 half steps higher" in stand.dump(), text(stand.dump(), "text"))
    check("and the left hand is off", "left hand off" in stand.dump(), text(stand.dump(), "soft"))
    app = accessible(stand.process.pid)
    shown = [n for n in walk(app) if n.get_name() == "the key in which it is heard"]
    check("the control says so", any(m.get_name() == "D" for n in shown for m in walk(n)),
          [m.get_name() for n in shown for m in walk(n)])
    stand.play("zbmz", 0.3)
    tab_to(app, "left hand on")
    do("key", "space")
    check("the left hand comes back", wait_for(lambda: "left hand off" not in stand.dump()))
    check("and that is remembered", wait_for(lambda: kept("left-hand-on") == ["true"]))
    stand.ends_well()
    notes = [m for m in mido.merge_tracks(mido.MidiFile(out).tracks) if m.type == "note_on" and m.velocity]
    check("it sounded in D, without a left hand", [(m.channel, m.note) for m in notes] ==
          [(0, 62), (0, 69), (0, 73), (0, 62)], notes)


def heard_in(app):
    """The row that the control shows."""
    app.clear_cache()
    return [m.get_name() for n in walk(app) if n.get_name() == "the key in which it is heard" for m in walk(n)
            if m.get_role_name() == "label"]


def play_until(stand, keys, shown):
    """Once; again where a busy machine played it too unevenly for its key to be told."""
    for _ in range(3):
        stand.play(keys, 0.3)
        if wait_for(lambda: shown in stand.dump(), 3):
            return True
    return False


def check_heard_key(folder):
    """What was chosen is an interval: in another key it is heard in another key, and the control names that one."""
    remember(folder, "more=true", "sound-shift=2")
    stand = Stand(program, folder)
    app = accessible(stand.process.pid)
    for keys, played, heard in (("zcbzcbz", "C major", "D"), ("xgnxgnxnmsxngx", "D major", "E")):
        check("played in " + played, play_until(stand, keys, '"%s"' % played), text(stand.dump(), "text"))
        check("it is heard in " + heard, wait_for(lambda: heard in heard_in(app), 3), heard_in(app))
    check("by the same interval", "2 half steps higher" in stand.dump(), text(stand.dump(), "text"))
    stand.ends_well()


def check_told(folder):
    """What is missing is told in the window's own words, and one line does not push the other away."""
    remember(folder, "input=Old Piano")
    os.environ["PULSE_SERVER"] = "unix:/nowhere"
    stand = Stand(program, folder, audio="pulse")
    check("no keyboard and no sound, both are told",
          wait_for(lambda: re.search('message "Old Piano is not there.*no sound output', stand.dump()), 10),
          stand.dump()[-300:])
    del os.environ["PULSE_SERVER"]
    stand.ends_well()


def check_tune_waits(folder):
    """A tune that was opened is seen before a note is played."""
    stand = Stand(program, folder, "--tune", os.path.join(demo_songs, "net-menders.abc"))
    dump = stand.dump()
    check("its name, key and metre", {"The Net Menders", "pickup, 6/8"} <= {w for _, w in text(dump, "text") + text(dump, "soft")} and
          "G major" in [w for _, w in text(dump, "text")], dump)
    check("how it begins", len(re.findall("^oval soft", dump, re.M)) > 8, dump)
    stand.end()


def check_refusals(folder):
    env = {k: v for k, v in os.environ.items() if k not in ("DISPLAY", "WAYLAND_DISPLAY")}
    run = subprocess.run([program, "stand"], env=env, capture_output=True, text=True)
    check("no screen: one line", run.returncode != 0 and run.stderr.count("\n") == 1 and "screen" in run.stderr,
          run.stderr)
    run = subprocess.run([program, "stand", "--from", "/nowhere.mid"], capture_output=True, text=True)
    check("a missing file: exit 2, one line", run.returncode == 2 and "nowhere.mid" in run.stderr, run.stderr)


sys.exit(run(program, check_demo, check_file_going_on, check_as_suggested, check_hands, check_going_on, check_memory_of_choices, check_memory_of_hands, check_heard_key,
             check_told, check_tune_waits, check_refusals))
