#!/usr/bin/env python3
"""sheet_abc_outside.py UNDERSONG DEMO_SONGS: lesson sheets as abc, with the left hand as a voice: abc2midi (Debian's
abcmidi) plays them without a complaint, and python3-mido finds the left hand that the same sheet has as MusicXML.
Read again by us, the sheet is the same.  Exit status 77 where one of the two programs is missing."""
import os
import shutil
import subprocess
import sys
import tempfile
import xml.etree.ElementTree as xml

import checks
from checks import check

try:
    import mido
except ImportError:
    print("skipped: python3-mido is not installed")
    sys.exit(77)
if not shutil.which("abc2midi"):
    print("skipped: abc2midi is not installed")
    sys.exit(77)
undersong, songs = sys.argv[1:]
TEXTURES = ["block", "fifths", "root-run", "broken", "waltz", "roots"]
compared = 0


def sheet(*words):
    return subprocess.run([undersong, "sheet", *words], capture_output=True, text=True, check=True, timeout=60).stdout


def sounding(abc, folder):
    """{(onset in twelfths of a quarter, pitch)} of each track with notes, without abc2midi's own accompaniment."""
    source, out = os.path.join(folder, "x.abc"), os.path.join(folder, "x.mid")
    with open(source, "w", encoding="utf-8") as file:
        file.write(abc.replace("%%score", "%%MIDI gchordoff\n%%MIDI chordattack 0\n%%score", 1))
    run = subprocess.run(["abc2midi", source, "-o", out], capture_output=True, text=True)
    check("abc2midi", "rror" not in run.stdout and "arning" not in run.stdout, run.stdout)
    midi, tracks = mido.MidiFile(out), []
    for track in midi.tracks:
        now, notes = 0, set()
        for message in track:
            now += message.time
            if message.type == "note_on" and message.velocity:
                notes.add((round(12 * now / midi.ticks_per_beat), message.note))
        if notes:
            tracks.append(notes)
    return tracks


def lower_staff(score):
    """{(onset, pitch)} of staff 2, bar after bar."""
    notes, start, step = set(), 0, dict(C=0, D=2, E=4, F=5, G=7, A=9, B=11)
    divisions = 1
    for measure in xml.fromstring(score.split("?>", 1)[1].split("\n", 1)[1]).iter("measure"):
        now = longest = last = 0
        for node in measure:
            divisions = int(node.findtext("divisions") or divisions)
            length = int(node.findtext("duration") or 0) / divisions
            if node.tag == "backup":
                now -= length
            if node.tag != "note":
                continue
            if node.find("chord") is not None:
                now = last
            pitch, tied = node.find("pitch"), any(t.get("type") == "stop" for t in node.findall("tie"))
            if pitch is not None and node.findtext("staff") == "2" and not tied:
                midi = 12 * (int(pitch.findtext("octave")) + 1) + step[pitch.findtext("step")] + int(
                    pitch.findtext("alter") or 0)
                notes.add((round(12 * (start + now)), midi))
            last, now = now, now + length
            longest = max(longest, now)
        start += longest
    return notes


with tempfile.TemporaryDirectory() as folder:
    for name in sorted(n for n in os.listdir(songs) if n.endswith(".abc")):
        path = os.path.join(songs, name)
        repeats = ":|" in open(path, encoding="utf-8").read()
        for key, texture in zip(["", "Bb", "A", "Eb", "E", "Ab"], TEXTURES):
            words = [path, "--texture", texture] + (["--keys", key] if key else [])
            abc = sheet(*words, "--format", "abc")
            tracks = sounding(abc, folder)
            voices = 2 + (" | 3}" in abc)
            check(f"{name} {texture}: {voices} voices", len(tracks) == voices, len(tracks))
            if not repeats:
                compared += 1
                wanted = lower_staff(sheet(*words, "--format", "musicxml"))
                check(f"{name} {texture}: the same left hand", tracks[-1] == wanted,
                      sorted(tracks[-1] ^ wanted)[:6])
            again = os.path.join(folder, "x.abc")
            check(f"{name} {texture}: read again the same sheet",
                  sheet(again, "--texture", texture) == sheet(*words), abc)
check("most were compared", compared >= 40, compared)
print(f"{compared} left hands compared, {checks.failed} checks failed")
sys.exit(checks.status())
