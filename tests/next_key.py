#!/usr/bin/env python3
"""next_key.py UNDERSONG DEMO_SONGS: which key comes next, from kept sessions: said by `review`, by `play` before and
after the player plays, and taken up by `play --drill auto`."""
import json
import os
import subprocess
import sys
import tempfile

import checks
from checks import check

try:
    import mido
except ImportError:
    print("skipped: python3-mido is not installed")
    sys.exit(77)
undersong, songs = sys.argv[1:]
TUNE = os.path.join(songs, "two-bells.abc")


def run(data, *words, **more):
    env = dict(os.environ, XDG_DATA_HOME=data, XDG_CONFIG_HOME=data, HOME=data)
    return subprocess.run([undersong, *words], env=env, capture_output=True, timeout=120, **more)


def written_notes():
    done = subprocess.run([undersong, "harmonize", "--format", "midi", TUNE], capture_output=True, check=True)
    path = os.path.join(scratch, "tune.mid")
    with open(path, "wb") as out:
        out.write(done.stdout)
    file, now, starts = mido.MidiFile(path), 0, []
    for message in mido.merge_tracks(file.tracks):
        now += message.time
        if message.type == "note_on" and message.velocity and message.channel == 0:
            starts.append((now / file.ticks_per_beat, message.note))
    return starts


def keep(data, name, shift, wrong=()):
    """A session: once through the tune, moved, with some notes a tone too low."""
    folder = os.path.join(data, "undersong", "sessions")
    os.makedirs(folder, exist_ok=True)
    track, last = mido.MidiTrack(), 0
    for i, (at, note) in enumerate(notes):
        pitch = note + shift - (2 if i in wrong else 0)
        track.append(mido.Message("note_on", note=pitch, velocity=70, time=round(480 * at) - last))
        track.append(mido.Message("note_off", note=pitch, time=120))
        last = round(480 * at) + 120
    mido.MidiFile(tracks=[track], ticks_per_beat=480).save(os.path.join(folder, f"undersong-{name}.mid"))


def next_key(data, *words):
    done = run(data, "review", "--format", "json", *words)
    return json.loads(done.stdout)["nextKey"]


def play(data, *words):
    """Live, with nobody playing: what is said on standard error."""
    done = run(data, "play", "--from", "-", "--to", "-", *words, input=b"")
    check("it ends well", done.returncode == 0, done)
    return done.stderr.decode()


def drill(data, *words):
    source = os.path.join(songs, "two-bells.mid")
    out = os.path.join(data, "x.mid")
    return run(data, "play", "--virtual-time", "--from", source, "--to", out, "--drill", "auto", *words).stdout.decode()


with tempfile.TemporaryDirectory() as scratch:
    notes = written_notes()
    fresh = os.path.join(scratch, "fresh")
    os.mkdir(fresh)
    check("nothing kept: the drill begins in the tune's own key", "first in C major" in drill(fresh, "--tune", TUNE))
    check("nothing kept: nothing is said", "Reason" not in play(fresh, "--tune", TUNE), play(fresh, "--tune", TUNE))

    safe = os.path.join(scratch, "safe")
    keep(safe, "1", 0)
    keep(safe, "2", 0)
    found = next_key(safe, "--tune", TUNE)
    check("C is safe: G next", found["key"] == "G major" and "Reason" in found["text"], found)
    words = run(safe, "review", "--tune", TUNE).stdout.decode()
    check("in words too, once", words.count("Try it in G major next") == 1, words)
    check("the tune comes back, so the same without its name", next_key(safe)["key"] == "G major", next_key(safe))
    check("the drill begins there", "first in G major" in drill(safe, "--tune", TUNE), drill(safe, "--tune", TUNE))
    check("and without the tune's name", "first in G major" in drill(safe))
    check("play says so before the first note", "Try it in G major next" in play(safe, "--tune", TUNE))
    said = play(safe)
    check("and after the last, also without the tune's name", "Try it in G major next" in said, said)
    check("not when nothing is to be kept or said", "Reason" not in play(safe, "--tune", TUNE, "--keep", "no")
          and "Reason" not in play(safe, "--tune", TUNE, "--quiet"))

    unsafe = os.path.join(scratch, "unsafe")
    keep(unsafe, "1", 0)
    keep(unsafe, "2", 7, wrong=(5, 11, 12, 17, 20, 25, 30, 33))
    found = next_key(unsafe, "--tune", TUNE)
    check("G went badly: G again", found["key"] == "G major" and "least safe" in found["text"], found)
    words = " ".join(run(unsafe, "review", "--tune", TUNE).stdout.decode().split())
    check("beside what to practise in it", words.count("once more in G major") == 1 and "alone, slowly" in words, words)
    words = drill(unsafe, "--tune", TUNE)
    check("the drill begins with it", "first in G major" in words, words)
sys.exit(checks.status())
