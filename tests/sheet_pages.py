#!/usr/bin/env python3
"""sheet_pages.py UNDERSONG: what lilypond makes of our source.  The notes of its MIDI file are those that
abc2midi plays from the same tune, repeats and endings included, and every page comes out as PDF and PNG."""
import os
import shutil
import subprocess
import sys
import tempfile

import mido

undersong = sys.argv[1]
if not shutil.which("lilypond") or not shutil.which("abc2midi"):
    print("lilypond or abc2midi is not installed")
    sys.exit(77)

BOAT = ("X:1\nT:The Lantern Boat\nM:3/4\nL:1/4\nQ:1/4=96\nK:G\nD|G G/A/ B|B>A G|A F D|G2 D|G B d|c2 e/c/|B>A F|G2:|\n"
        "|:B|d>c B|c A G|(3F/G/A/ B D|A2 D|G B d|e c A|[1 B A F|G2:|[2 B A2|G2|]\n")
MILL = ("X:1\nT:Round the Windmill\nM:6/8\nL:1/8\nQ:3/8=60\nK:Em\nB|E2E GFE|B2B BAG|A2A AGF|F2F ^D2B|E2E GFE|B2B e2B|"
        "A2G F2^D|E3- E2:|\n")
STEP = "X:1\nT:Stepping Stones\nM:4/4\nL:1/8\nQ:1/4=90\nK:Bb\nB2 c2 d e3|f4- fzd2|z2 c2 B A3-|A4 B4|]\n"


def onsets(path, track):
    """(quarter, pitch) of the track's notes, the track counted among those that have notes."""
    file = mido.MidiFile(path)
    found = []
    for events in file.tracks:
        at, notes = 0, []
        for event in events:
            at += event.time
            if event.type == "note_on" and event.velocity > 0:
                notes.append((at / file.ticks_per_beat, event.note))
        if notes:
            found.append(sorted(notes))
    return found[track]


failed = 0
with tempfile.TemporaryDirectory() as folder:
    for name, tune in (("boat", BOAT), ("mill", MILL), ("step", STEP)):
        base = os.path.join(folder, name)
        with open(base + ".abc", "w") as file:
            file.write(tune)
        subprocess.run(["abc2midi", base + ".abc", "-o", base + "-abc.mid", "-NGUI"], check=True, capture_output=True)
        subprocess.run([undersong, "sheet", base + ".abc", "--fingering", "--format", "lilypond", "--to", base + ".ly"],
                       check=True)
        said = subprocess.run(["lilypond", "--loglevel=WARNING", "-o", base, base + ".ly"], check=True, capture_output=True,
                              text=True).stderr
        ours, theirs = onsets(base + ".midi", 0), onsets(base + "-abc.mid", 0)
        same = len(ours) == len(theirs) and all(a[1] == b[1] and abs(a[0] - b[0]) < 0.02 for a, b in zip(ours, theirs))
        if not same or "barcheck" in said or "error" in said:
            failed += 1
            print(f"not ok: {name}: {len(ours)} notes, abc2midi has {len(theirs)}\n{said}")
    for ending in ("pdf", "png"):
        page = os.path.join(folder, "page." + ending)
        subprocess.run([undersong, "sheet", os.path.join(folder, "boat.abc"), "--keys", "F", "--format", ending, "--to", page],
                       check=True)
        start = open(page, "rb").read(8)
        if not start.startswith(b"%PDF" if ending == "pdf" else b"\x89PNG"):
            failed += 1
            print(f"not ok: {page} starts with {start}")
sys.exit(1 if failed else 0)
