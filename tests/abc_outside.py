#!/usr/bin/env python3
"""Our abc reader against abc2midi (Debian's abcmidi) and python3-mido.

usage: abc_outside.py TUNE_NOTES NOTATION FOLDER RANDOM

Every *.abc of the folder, and so many made-up tunes as we write them, go through abc2midi, whose MIDI is read by
mido, and through our reader: the same pitches at the same onsets, voice by voice.  Exit status 77 where one of the
two programs is missing.
"""
import glob
import os
import shutil
import subprocess
import sys
import tempfile

try:
    import mido
except ImportError:
    print("skipped: python3-mido is not installed")
    sys.exit(77)
if not shutil.which("abc2midi"):
    print("skipped: abc2midi is not installed")
    sys.exit(77)


def ours(program, path):
    """[(onset, length, pitch)] of the melody and of the second voice."""
    lines = subprocess.run([program, path], check=True, capture_output=True, text=True).stdout.splitlines()
    rows = [line.split() for line in lines]
    return [[(float(r[1]), float(r[2]), int(r[3])) for r in rows if r[0] == what] for what in ("note", "second")]


def theirs(path, folder, made_up):
    """The same from abc2midi, one list a track with notes, without its own accompaniment."""
    copy, out = os.path.join(folder, "copy.abc"), os.path.join(folder, "copy.mid")
    with open(path, encoding="utf-8") as file, open(copy, "w", encoding="utf-8") as to:
        for line in file:
            to.write(line)
            if line.startswith("K:"):
                to.write("%%MIDI gchordoff\n")
    run = subprocess.run(["abc2midi", copy, "-o", out], capture_output=True, text=True)
    # The made-up tunes have bars of any length; it counts their beats and says so.
    complaints = [x for x in run.stdout.splitlines()
                  if ("rror" in x or "arning" in x) and not (made_up and "time units" in x)]
    if complaints:
        sys.exit(f"{path}: abc2midi complains: {complaints}")
    voices, midi = [], mido.MidiFile(out)
    for track in midi.tracks:
        now, sounding, notes = 0, {}, []
        for message in track:
            now += message.time
            if message.type == "note_on" and message.velocity:
                sounding[message.note] = now
            elif message.type in ("note_on", "note_off") and message.note in sounding:
                start = sounding.pop(message.note)
                notes.append((start / midi.ticks_per_beat, (now - start) / midi.ticks_per_beat, message.note))
        if notes:
            voices.append(sorted(notes))
    return voices


def same(mine, other):
    # abc2midi ends a note a little early and rounds to 1/480 of a quarter.
    return len(mine) == len(other) and all(
        a[2] == b[2] and abs(a[0] - b[0]) < 0.005 and abs(a[1] - b[1]) < 0.06 for a, b in zip(mine, other))


def made_up_tunes(notation, count, folder):
    for seed in range(count):
        source, path = os.path.join(folder, "source.abc"), os.path.join(folder, f"random-{seed}.abc")
        with open(source, "w", encoding="utf-8") as out:
            subprocess.run([notation, "random", str(seed)], check=True, stdout=out)
        with open(path, "w", encoding="utf-8") as out:
            subprocess.run([notation, "abc", source], check=True, stdout=out)
        yield path


def main():
    program, notation, top, count = sys.argv[1], sys.argv[2], sys.argv[3], int(sys.argv[4])
    wrong = 0
    with tempfile.TemporaryDirectory() as folder:
        demos = sorted(glob.glob(os.path.join(top, "*.abc")))
        paths = demos + list(made_up_tunes(notation, count, folder))
        for path in paths:
            mine, other = [v for v in ours(program, path) if v], theirs(path, folder, path not in demos)
            if len(mine) != len(other) or not all(map(same, mine, other)):
                wrong += 1
                print(f"{path}: not the same notes")
                for a, b in zip(mine, other):
                    print("\n".join(f"  ours {x}  abc2midi {y}" for x, y in zip(a, b) if not same([x], [y])))
    print(f"{len(paths)} tunes, {wrong} not as abc2midi plays them")
    sys.exit(wrong > 0 or len(demos) < 8)


main()
