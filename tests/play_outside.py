#!/usr/bin/env python3
"""The whole program as a user meets it, its files read by python3-mido and mftext (abcmidi): play_outside.py PROGRAM DEMOS."""
import collections
import glob
import os
import shutil
import subprocess
import sys
import tempfile

import mido

from checks import check, status

program, demos = sys.argv[1:]


def run(*words):
    return subprocess.run([program, *words], capture_output=True, text=True)


def timed(path):
    """Channel messages and meta events with their seconds."""
    now, out = 0.0, []
    for message in mido.MidiFile(path):
        now += message.time
        out.append((now, message))
    return out


def notes(events, channel):
    return [(round(t, 3), m.note) for t, m in events
            if m.type == "note_on" and m.velocity and m.channel == channel]


def unreleased(events):
    down = collections.Counter()
    for _, m in events:
        if m.type == "note_on" and m.velocity:
            down[m.channel, m.note] += 1
        elif m.type in ("note_on", "note_off"):
            down[m.channel, m.note] -= 1
    return [k for k, n in down.items() if n]


def check_demo(path, folder):
    name = os.path.basename(path)
    out, again = os.path.join(folder, "out.mid"), os.path.join(folder, "again.mid")
    for target in (out, again):
        r = run("play", "--from", path, "--to", target, "--virtual-time", "--mark-beats")
        check(f"{name}: exit {r.returncode} {r.stderr}", r.returncode == 0)
    check(f"{name}: same bytes twice", open(out, "rb").read() == open(again, "rb").read())
    check(f"{name}: says what is heard", "chord" in r.stdout and len(r.stdout.splitlines()) > 10)
    heard = [line.split()[0] for line in r.stdout.splitlines() if line.strip().startswith(("perhaps", "heard as"))]
    check(f"{name}: a first note is a guess, more are heard {heard}", heard[0] == "perhaps" and "heard" in heard)
    events = timed(out)
    played = [(t, n) for t, n in notes(timed(path), 0)]
    kept = notes(events, 0)
    check(f"{name}: melody passes through", [n for _, n in played] == [n for _, n in kept] and
          all(abs(a - b) < 0.002 for (a, _), (b, _) in zip(played, kept)))
    left = notes(events, 1)
    check(f"{name}: a left hand on channel 2", len(left) > 10)
    check(f"{name}: all released", not unreleased(events))
    check(f"{name}: left hand below the melody", max(n for _, n in left) < max(n for _, n in kept))
    onsets = {t for t, _ in kept}
    together = sum(t in onsets for t in {t for t, _ in left})
    check(f"{name}: most strikes are with a note", together >= 0.6 * len({t for t, _ in left}))
    texts = [m.text for _, m in events if m.type == "text"]
    check(f"{name}: beats marked", texts.count("bar") > 4 and texts.count("beat") > 4)
    markers = {m.text for _, m in events if m.type == "marker"}
    check(f"{name}: chord markers {markers}", markers and markers <= {"I", "IV", "V", "i", "iv"})
    check(f"{name}: a key", any(m.type == "key_signature" for _, m in events))
    tracks = mido.MidiFile(out).tracks
    check(f"{name}: a track each", all(len({m.channel for m in t if m.type == "note_on"}) <= 1 for t in tracks))
    dump = subprocess.run(["mftext", out], capture_output=True, text=True)
    check(f"{name}: mftext reads it", dump.returncode == 0 and "rror" not in dump.stdout + dump.stderr)


def check_refusals(folder):
    whole = open(sorted(glob.glob(os.path.join(demos, "*.mid")))[0], "rb").read()
    truncated = os.path.join(folder, "truncated.mid")
    open(truncated, "wb").write(whole[:len(whole) // 2])
    broken = os.path.join(folder, "broken.abc")
    open(broken, "w").write("X:1\nT:Broken\nM:4/4\nL:1/4\nK:C\nCDEF|\nGA\"C B|\n")
    good = sorted(glob.glob(os.path.join(demos, "*.mid")))[0]
    out = os.path.join(folder, "x.mid")
    copy, place = os.path.join(folder, "copy.mid"), os.path.join(folder, "place.mid")
    shutil.copy(good, copy)
    os.mkdir(place)
    link = os.path.join(folder, "link.mid")
    os.symlink(copy, link)
    rows = [
        (("play", "--from", truncated, "--to", out, "--virtual-time"), "truncated.mid"),
        (("play", "--from", broken, "--to", out, "--virtual-time"), "broken.abc:7"),
        (("harmonize", broken), "broken.abc:7"),
        (("play", "--from", os.path.join(folder, "none.mid"), "--to", out, "--virtual-time"), "none.mid"),
        (("play", "--from", "no such keyboard"), "no such keyboard"),
        (("play", "--from", good, "--key", "H", "--to", out, "--virtual-time"), "--key"),
        (("play", "--from", good, "--texture", "polka", "--to", out, "--virtual-time"), "root-run"),
        (("play", "--from", good, "--to", os.path.join(folder, "no/such/x.mid"), "--virtual-time"), "x.mid"),
        (("play", "--from", good, "--keep", os.path.join(folder, "no/such/k.mid"), "--to", out, "--virtual-time"), "k.mid"),
        (("play", "--from", good, "--channel", "17", "--to", out, "--virtual-time"), "17"),
        (("play", "--from", good, "--channel", "9", "--to", out, "--virtual-time"), "channel"),
        (("play", "--from", good, "--switch-key", "polka", "--to", out, "--virtual-time"), "polka"),
        (("play", "--from", good, "--songbook", os.path.join(folder, "no-book"), "--to", out, "--virtual-time"), "no-book"),
        (("play", "--from", good, "--tune", broken, "--to", out, "--virtual-time"), "broken.abc:7"),
        (("play", "--from", copy, "--to", copy, "--virtual-time"), "copy.mid: is read here"),
        (("play", "--from", copy, "--to", link, "--virtual-time"), "link.mid: is read here"),
        (("play", "--from", copy, "--to", out, "--keep", copy, "--virtual-time"), "copy.mid: is read here"),
        (("play", "--from", good, "--tune", copy, "--to", copy, "--virtual-time"), "copy.mid: is read here"),
        (("play", "--from", good, "--to", out, "--keep", out, "--virtual-time"), "--to writes that file"),
        (("play", "--from", good, "--keep", os.path.join(folder, "x.wav"), "--virtual-time"), "FILE.mid"),
        (("play", "--from", good, "--keep", "-", "--virtual-time"), "--keep -"),
        (("play", "--from", good, "--to", place, "--virtual-time"), "place.mid: cannot be written (Is a directory)"),
        (("play", "--from", good, "--tune", copy, "--songbook", demos, "--to", out, "--virtual-time"), "give one of them"),
        (("play", "--from", good, "--key", "C", "--drill", "C,G", "--to", out, "--virtual-time"), "leave --key out"),
        (("stand", "--from", copy, "--to", copy), "copy.mid: is read here"),
        (("stand", "--tune", copy, "--picture", link), "link.mid: is read here"),
        (("dance",), "dance"),
    ]
    for words, names in rows:
        r = run(*words)
        check(f"{' '.join(words)}: exit {r.returncode}, {r.stderr!r}",
              r.returncode == 2 and r.stderr.count("\n") == 1 and names in r.stderr)
        check(f"{' '.join(words)}: said before playing", not r.stdout)
    check("what was read is as it was", open(copy, "rb").read() == open(good, "rb").read())


def check_file_as_player(folder):
    """A file's channel, switches and keeping work as with a player at the keyboard."""
    song, out, kept = (os.path.join(folder, n) for n in ("two.mid", "two-out.mid", "kept.mid"))
    midi = mido.MidiFile(type=0)
    track = mido.MidiTrack()
    midi.tracks.append(track)
    for i in range(16):
        track.append(mido.Message("note_on", channel=0, note=60 + i % 3, velocity=80))
        track.append(mido.Message("note_on", channel=4, note=72 + i % 5, velocity=80))
        track.append(mido.Message("note_off", channel=0, note=60 + i % 3, time=400))
        track.append(mido.Message("note_off", channel=4, note=72 + i % 5))
        if i == 7:
            track.append(mido.Message("note_on", channel=4, note=21, velocity=80))
            track.append(mido.Message("note_off", channel=4, note=21))
    midi.save(song)
    r = run("play", "--from", song, "--channel", "5", "--switch-key", "A0=left", "--to", out, "--keep", kept,
            "--virtual-time", "--quiet")
    check(f"two channels: {r.stderr}", r.returncode == 0)
    events = timed(out)
    check("--channel: that channel's notes alone, and the switch is silent",
          [n for _, n in notes(events, 0)] == [72 + i % 5 for i in range(16)])
    left = [t for t, _ in notes(events, 1)]
    middle = notes(events, 0)[8][0]
    check("--switch-key: the left hand is off after it", left and max(left) < middle)
    check("--keep: the same music", [e for e in notes(timed(kept), 1)] == notes(events, 1))
    capitals, again = os.path.join(folder, "TWO.MID"), os.path.join(folder, "again.mid")
    shutil.copy(song, capitals)
    run("play", "--from", capitals, "--channel", "5", "--switch-key", "A0=left", "--to", again, "--virtual-time", "--quiet")
    check("a name in capitals is the same performance", open(again, "rb").read() == open(out, "rb").read())


with tempfile.TemporaryDirectory() as folder:
    performances = sorted(glob.glob(os.path.join(demos, "*.mid")))
    check("demo performances are there", len(performances) >= 8)
    for path in performances:
        check_demo(path, folder)
    check_refusals(folder)
    check_file_as_player(folder)
sys.exit(status())
